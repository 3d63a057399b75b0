// Small comforts; every page works without them.
(function () {
  "use strict";
  document.documentElement.classList.add("js");

  // Menu on narrow screens.
  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-menu]");
    if (!button) return;
    const open = document.getElementById(button.getAttribute("aria-controls")).classList.toggle("open");
    button.setAttribute("aria-expanded", String(open));
  });

  // A second tap on a button that is already at work does nothing; after five seconds it may be tried again.
  document.addEventListener("submit", function (event) {
    const form = event.target;
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    setTimeout(function () {
      delete form.dataset.sent;
    }, 5000);
  });
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form[data-sent]").forEach(function (form) {
      delete form.dataset.sent;
    });
  });

  // Progress of jobs: the answer replaces the element, and asks again for as long as it carries the attribute.
  function poll(element) {
    const seconds = Number(element.dataset.pollSeconds || "2");
    setTimeout(async function () {
      if (!element.isConnected) return;
      try {
        const answer = await fetch(element.dataset.poll, { headers: { Accept: "text/html" } });
        if (!answer.ok || answer.redirected) throw new Error(String(answer.status));
        const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").body.firstElementChild;
        if (!fresh) throw new Error("empty answer");
        if (element.querySelector(":active")) return poll(element); // a button that is pressed must not be another when it is let go
        const waiting = fresh.dataset.poll !== undefined;
        if (!waiting && fresh.dataset.then) {
          window.location.assign(fresh.dataset.then);
          return;
        }
        const at = Array.from(element.querySelectorAll(".scroll"), (box) => box.scrollLeft);
        const held = element.contains(document.activeElement) && document.activeElement.matches("button");
        element.replaceWith(fresh);
        fresh.querySelectorAll(".scroll").forEach((box, n) => (box.scrollLeft = at[n] || 0));
        if (held && fresh.querySelector("button")) fresh.querySelector("button").focus();
        if (waiting) poll(fresh);
      } catch {
        element.querySelectorAll("[data-no-answer]").forEach((told) => (told.hidden = false));
        element.dataset.pollSeconds = String(Math.min(seconds * 2, 30));
        poll(element);
      }
    }, seconds * 1000);
  }

  // A run in another pot or at another time: what stands against it is said while the form is filled in.
  async function judge(form) {
    const place = form.querySelector("[data-verdict-here]");
    const told = new URLSearchParams();
    for (const [name, value] of new FormData(form)) if (name.startsWith("hold-")) told.set(name, value);
    const asked = (form.dataset.asked = told.toString());
    try {
      const answer = await fetch(form.dataset.verdict + "?" + asked, { headers: { Accept: "text/html" } });
      if (!answer.ok || answer.redirected || form.dataset.asked !== asked) return;
      const text = await answer.text();
      const said = new DOMParser().parseFromString(text, "text/html").body.firstElementChild;
      if (said && form.dataset.asked === asked) place.replaceChildren(said);
    } catch {
      place.replaceChildren();
    }
  }

  document.addEventListener("change", function (event) {
    const form = event.target.closest("form[data-verdict]");
    if (form) judge(form);
  });

  document.addEventListener("DOMContentLoaded", function () {
    // Who comes to the sign-in has signed out: floor pages are kept for nobody.
    if (location.pathname === "/sign-in/" && window.caches) {
      caches.keys().then((names) => names.filter((name) => name.startsWith("floor-pages-")).forEach((name) => caches.delete(name)));
      navigator.serviceWorker.getRegistrations().then((all) => all.forEach((each) => each.active && each.active.postMessage({ forget: true })));
    }
    document.querySelectorAll("[data-poll]").forEach(poll);
    // A long drawing opens where the plan is now.
    document.querySelectorAll("[data-show-share]").forEach(function (element) {
      element.scrollLeft = element.scrollWidth * Number(element.dataset.showShare) - element.clientWidth / 3;
    });
  });
})();
