// Keeps the floor pages of one person on the tablet. The server writes FLOOR (version, assets, home, quiet) above this.
"use strict";
const ASSETS = "floor-assets-" + FLOOR.version;
const PAGES = "floor-pages-"; // + person + home of the kitchen
const PATIENCE_MS = 4000;
const FRESH_MS = 600000;
let signedOut = 0; // how often, since this worker was started

self.addEventListener("install", function (event) {
  event.waitUntil(
    caches
      .open(ASSETS)
      .then((cache) => cache.addAll(FLOOR.assets))
      .then(() => self.skipWaiting())
  );
});

self.addEventListener("activate", function (event) {
  const old = (name) => name.startsWith("floor-assets-") && name !== ASSETS;
  event.waitUntil(
    caches
      .keys()
      .then((names) => Promise.all(names.filter(old).map((name) => caches.delete(name))))
      .then(() => self.clients.claim())
  );
});

async function forgetAllBut(person) {
  const others = (name) => name.startsWith(PAGES) && !name.startsWith(PAGES + person + "/");
  const names = await caches.keys();
  await Promise.all(names.filter(others).map((name) => caches.delete(name)));
}

// A page is kept only where the server says whose it is; another person's pages go first. One that was on its way when its
// person signed out (asked: what signedOut was then) goes again.
async function keep(request, answer, asked) {
  const person = answer.headers.get("Floor-Person");
  if (!answer.ok || answer.redirected || !person) return;
  await forgetAllBut(person);
  const cache = await caches.open(PAGES + person + FLOOR.home);
  await cache.put(request.url, answer);
  if (asked !== signedOut) await forgetAllBut("nobody");
}

async function kept(request) {
  const names = (await caches.keys()).filter((name) => name.startsWith(PAGES) && name.endsWith(FLOOR.home));
  for (const name of names) {
    const found = await (await caches.open(name)).match(request.url, { ignoreVary: true });
    if (found) return found;
  }
  return undefined;
}

function unknownPage() {
  const links = FLOOR.assets.filter((href) => href.endsWith(".css")).map((href) => `<link rel="stylesheet" href="${href}">`);
  const text = `<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>Not kept on this tablet</title>${links.join("")}<main id="main"><div class="title"><h1>No network</h1></div>
<p>This page has not been opened on this tablet since somebody signed in, so it is not kept here.</p>
<p>What you have recorded is kept. <a class="button act" href="${FLOOR.home}">Go to the floor</a></p></main></html>`;
  return new Response(text, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } });
}

async function page(event) {
  const request = event.request;
  const asked = signedOut;
  const fresh = fetch(request).then(async function (answer) {
    if (answer.type === "opaqueredirect" || answer.redirected) await forgetAllBut("nobody");
    else if (answer.ok) await keep(request, answer.clone(), asked);
    return answer;
  });
  event.waitUntil(fresh.catch(() => undefined));
  const late = new Promise((done) => setTimeout(done, PATIENCE_MS));
  const first = await Promise.race([fresh.catch(() => undefined), late]);
  if (first && first.status < 500) return first;
  return (await kept(request)) || first || (request.mode === "navigate" ? fresh.catch(unknownPage) : fresh);
}

async function asset(request) {
  const found = await caches.match(request, { ignoreVary: true });
  return found || fetch(request);
}

self.addEventListener("fetch", function (event) {
  const request = event.request;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (FLOOR.assets.includes(url.pathname)) event.respondWith(asset(request));
  else if (url.pathname.startsWith(FLOOR.home) && !FLOOR.quiet.includes(url.pathname)) event.respondWith(page(event));
});

// The board names the pages that will be needed; they are fetched one by one, so that the kitchen's Wi-Fi stays free.
self.addEventListener("message", function (event) {
  if (event.data && event.data.keep) event.waitUntil(keepAll(event.data.keep));
  if (event.data && event.data.forget) {
    signedOut += 1;
    event.waitUntil(forgetAllBut("nobody"));
  }
});

async function keepAll(hrefs) {
  for (const href of hrefs) {
    try {
      const request = new Request(new URL(href, self.location.origin), { credentials: "same-origin" });
      const there = await kept(request);
      if (there && Date.now() - Date.parse(there.headers.get("Date")) < FRESH_MS) continue;
      const asked = signedOut;
      await keep(request, await fetch(request), asked);
    } catch {
      return;
    }
  }
}
