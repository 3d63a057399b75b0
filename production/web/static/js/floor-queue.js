// What was recorded on this tablet and has not arrived yet. Nothing leaves the list unless the server has it or a person decides.
(function () {
  "use strict";
  const AT_ONCE = 40;
  const changed = [];
  const state = { contact: null, person: null, book: null, trouble: "", offsetMs: Number(localStorage.getItem("floor-offset-ms") || "0") };
  let place = null;
  let sending = null;

  const opened = new Promise(function (done, failed) {
    const request = indexedDB.open("potwright-floor", 1);
    request.onupgradeneeded = () => request.result.createObjectStore("entries", { keyPath: "order", autoIncrement: true });
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });

  async function store(mode, use) {
    const db = await opened;
    return new Promise(function (done, failed) {
      const change = db.transaction("entries", mode, { durability: "strict" });
      const request = use(change.objectStore("entries"));
      change.oncomplete = () => done(request.result);
      change.onerror = change.onabort = () => failed(change.error);
    });
  }

  function newKey() {
    if (crypto.randomUUID) return crypto.randomUUID();
    return Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  const tell = () => changed.forEach((each) => each());
  const list = async () => (await store("readonly", (rows) => rows.getAll())).filter((each) => each.kitchen === place.kitchen);
  const mine = (each) => each.person === state.person;
  const now = () => Date.now() + state.offsetMs;

  async function add(entry) {
    const row = { ...entry, key: newKey(), kitchen: place.kitchen, person: place.person, name: place.name, state: "waiting" };
    row.order = await store("readwrite", (rows) => rows.add(row));
    tell();
    beat();
    return row;
  }

  async function change(row, values) {
    Object.assign(row, values);
    await store("readwrite", (rows) => rows.put(row));
  }

  async function drop(key) {
    for (const row of await list()) if (row.key === key) await store("readwrite", (rows) => rows.delete(row.order));
    tell();
  }

  // The server is asked first who is signed in: what one person recorded is never sent under the name of another.
  async function pulse() {
    const sent = Date.now();
    const answer = await fetch(place.pulse, { headers: { Accept: "application/json" }, cache: "no-store" });
    if (answer.redirected || answer.status === 403) throw new Error("signed-out");
    if (!answer.ok) throw new Error("HTTP " + answer.status);
    const told = await answer.json();
    state.offsetMs = Date.parse(told.server_now) - (sent + Date.now()) / 2;
    localStorage.setItem("floor-offset-ms", String(Math.round(state.offsetMs)));
    Object.assign(state, { contact: now(), person: told.person, book: told.book, token: told.token });
  }

  async function post(rows) {
    const entries = rows.map(({ key, kind, subject, content, happened_at, corrects, reason }) => ({
      key, kind, subject, content, happened_at, corrects: corrects || null, reason: reason || "",
    }));
    const answer = await fetch(place.entries, {
      method: "POST",
      headers: { "Content-Type": "application/json", Accept: "application/json", "X-CSRFToken": state.token, "Floor-Person": String(state.person) },
      body: JSON.stringify({ device_now: new Date().toISOString(), entries }),
    });
    const told = (answer.headers.get("Content-Type") || "").includes("json");
    if (answer.redirected || answer.status === 401 || (answer.status === 403 && !told)) throw new Error("signed-out");
    if (answer.status === 409) throw new Error("signed-out");
    if (answer.status === 403) throw new Error("not-allowed");
    if (answer.status === 400 || answer.status === 422) return null;
    if (!answer.ok) throw new Error("HTTP " + answer.status);
    return (await answer.json()).answers;
  }

  const ARRIVED = { kept: "kept", known: "kept", questioned: "questioned", refused: "refused" };
  const UNREAD = { outcome: "refused", code: "unreadable", sentence: "The server could not read this entry.", remedy: "Record it again." };

  async function settle(rows, answers) {
    for (const row of rows) {
      const said = answers.find((each) => each.key === row.key);
      if (!said || !ARRIVED[said.outcome]) continue;
      const asked = said.outcome === "known" && said.sentence;
      await change(row, { state: asked ? "questioned" : ARRIVED[said.outcome], answer: said, arrived: now() });
    }
  }

  // A parcel that cannot be read is sent again piece by piece, so that one bad entry does not keep back the others.
  async function deliver(rows) {
    const answers = await post(rows);
    if (answers) return settle(rows, answers);
    if (rows.length === 1) return settle(rows, [{ ...UNREAD, key: rows[0].key }]);
    for (const row of rows) await deliver([row]);
  }

  async function deliverAll() {
    const waiting = (await list()).filter((each) => each.state === "waiting" && mine(each));
    for (let at = 0; at < waiting.length; at += AT_ONCE) {
      await deliver(waiting.slice(at, at + AT_ONCE));
      tell();
    }
    if (waiting.length) await pulse();
  }

  async function tidy() {
    const dayAgo = now() - 24 * 3600 * 1000;
    for (const row of await list())
      if (row.state === "kept" && row.arrived < dayAgo) await store("readwrite", (rows) => rows.delete(row.order));
  }

  async function contact() {
    try {
      await pulse();
      state.trouble = "";
      await deliverAll();
      await tidy();
    } catch (error) {
      state.trouble = /^(signed-out|not-allowed|HTTP)/.test(error.message) ? error.message : "no-network";
    }
    tell();
  }

  const alone = (work) => (navigator.locks ? navigator.locks.request("floor-sending", work) : work());

  function beat() {
    const after = sending ? sending.then(() => alone(contact)) : alone(contact);
    const current = (sending = after.finally(() => { if (sending === current) sending = null; }));
    return current;
  }

  window.floorQueue = {
    state, list, add, change, drop, beat, now,
    begin(where) { place = where; },
    onChange(call) { changed.push(call); },
  };
})();
