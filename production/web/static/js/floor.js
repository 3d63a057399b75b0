// The floor pages: forms go into the queue, what waits is shown at once, timers run, the page renews itself.
(function () {
  "use strict";
  document.documentElement.classList.add("js");
  const queue = window.floorQueue;
  const BEAT_MS = 20000;
  const SLOW_CLOCK_MS = 120000;
  const MOST_KEPT = 16;
  let place = null;
  let rows = [];
  let renewing = null;

  const all = (selector, within) => Array.from((within || document).querySelectorAll(selector));
  const one = (selector, within) => (within || document).querySelector(selector);

  function made(tag, text, className) {
    const element = document.createElement(tag);
    if (text) element.textContent = text;
    if (className) element.className = className;
    return element;
  }

  function clock(ms) {
    return new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", timeZone: place.zone }).format(new Date(ms));
  }

  function span(ms) {
    const minutes = Math.floor(Math.abs(ms) / 60000);
    const seconds = Math.floor(Math.abs(ms) / 1000) % 60;
    if (minutes < 10) return minutes + " min " + String(seconds).padStart(2, "0") + " s";
    return minutes < 60 ? minutes + " min" : minutes < 2880 ? Math.floor(minutes / 60) + " h " + (minutes % 60) + " min" : Math.floor(minutes / 1440) + " d";
  }

  // Forms
  function value(name, text, unit) {
    if (name.endsWith(":yes")) return true;
    if (name.endsWith(":count") && /^\d+$/.test(text)) return Number(text);
    return unit && !/[a-z°º]/i.test(text) ? text + " " + unit : text;
  }

  // The fields of a form: those under `content.` are what is recorded, the others say about what.
  function read(form, button) {
    const data = new FormData(form);
    for (const gives of all("[data-gives]")) if (data.get("content." + gives.dataset.gives) === "") data.set("content." + gives.dataset.gives, gives.value);
    if (button && button.name) data.append(button.name, button.value);
    const entry = { content: {}, values: [] };
    for (const [name, typed] of data) {
      const text = typed.trim();
      if (!name.startsWith("content.")) entry[name] = text;
      else if (text !== "") entry.content[name.slice(8).split(":")[0]] = value(name, text, data.get("unit." + name.slice(8)));
    }
    for (const field of form.elements) {
      if (field.type === "hidden" || !field.value || !field.name.startsWith("content.") || "unsaid" in field.dataset) continue;
      const chosen = field.selectedOptions ? field.selectedOptions[0].textContent : entry.content[field.name.slice(8).split(":")[0]];
      entry.values.push(chosen);
    }
    return entry;
  }

  async function record(form, button) {
    const entry = read(form, button);
    const ago = Number(entry.ago_min || "0") * 60000;
    const says = (button && button.dataset.says) || form.dataset.says || "";
    const step = form.dataset.step || "";
    const row = {
      kind: entry.kind, subject: entry.subject, content: entry.content, step, says: [says, ...entry.values].filter(Boolean).join(", "),
      happened_at: new Date(Date.now() - ago).toISOString(), shown_ms: queue.now() - ago,
      corrects: entry.corrects || "", reason: entry.reason || "",
    };
    try {
      await queue.add(row);
    } catch {
      form.submit(); // no store in this browser: the form goes the plain way
      return;
    }
    if (form.dataset.settles) await queue.drop(form.dataset.settles);
    remember(form);
    form.reset();
    recall(form);
    delete form.dataset.dirty;
    if (form.contains(document.activeElement) && button) button.focus(); // a field with the keyboard open is never renewed
    const fold = form.closest("details[data-folds]");
    if (fold) fold.open = false;
    say("Kept: " + (row.says || "recorded"));
  }

  function remember(form) {
    all("[data-remember]", form).forEach((each) => localStorage.setItem("floor-" + each.dataset.remember, each.value));
  }

  function recall(within) {
    all("[data-remember]", within).forEach(function (each) {
      const last = localStorage.getItem("floor-" + each.dataset.remember);
      if (last !== null && Array.from(each.options || []).some((option) => option.value === last)) each.value = last;
    });
  }

  function say(text) {
    const told = one("[data-told]");
    if (told) told.textContent = text;
  }

  // The capture phase comes before the guard of other forms against a second tap; here the key is the guard.
  document.addEventListener("submit", function (event) {
    const form = event.target;
    if (form.dataset.record === undefined || !place) return;
    event.preventDefault();
    event.stopPropagation();
    if (Date.now() - Number(form.dataset.tapped || "0") < 400) return;
    form.dataset.tapped = String(Date.now());
    record(form, event.submitter);
  }, true);

  document.addEventListener("change", function (event) {
    if (event.target.dataset.gives) remember(event.target.closest("div"));
  });

  document.addEventListener("input", function (event) {
    const form = event.target.closest("form[data-record]");
    if (form) form.dataset.dirty = "yes";
  });

  // What stands in a box beforehand is typed over, not into.
  document.addEventListener("focusin", function (event) {
    if (event.target.matches("input.amount")) event.target.select();
  });

  document.addEventListener("click", async function (event) {
    const menu = event.target.closest("[data-menu]");
    if (menu) menu.setAttribute("aria-expanded", String(one("#menu").classList.toggle("open")));
    const button = event.target.closest("button[data-do]");
    if (!button) return;
    if (button.dataset.do === "drop") await queue.drop(button.dataset.key);
    if (button.dataset.do === "again") again(rows.find((row) => row.key === button.dataset.key));
    if (button.dataset.do === "open") opened(button.closest("[data-step-item]"));
    if (button.dataset.do === "all") button.setAttribute("aria-expanded", String(one(".steps").classList.toggle("all")));
  });

  function opened(item) {
    item.classList.add("open");
    const first = one("form input:not([type=hidden]), form select, form button", item);
    if (first) first.focus();
  }

  // What was refused comes back into a form of the same kind, with what was typed.
  function again(row) {
    const forms = all("form[data-record]").filter((form) => form.elements.kind && form.elements.kind.value === row.kind);
    const form = forms.find((each) => each.elements.subject.value === row.subject && (each.dataset.step || "") === row.step);
    if (!form) return;
    for (let fold = form.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
    const item = form.closest("[data-step-item]");
    if (item) item.classList.add("open");
    for (const field of form.elements) {
      const name = field.name.startsWith("content.") ? field.name.slice(8).split(":")[0] : "";
      if (name && field.type !== "hidden" && row.content[name] !== undefined) field.value = row.content[name];
    }
    form.dataset.settles = row.key;
    form.scrollIntoView({ block: "center" });
    const first = one("input:not([type=hidden]), select, button", form);
    if (first) first.focus();
  }

  // What waits, beside what the server has shown
  const WORDS = { waiting: "waiting to be sent", kept: "recorded", questioned: "recorded, but asked about", refused: "not accepted" };

  function local() {
    return rows.filter(function (row) {
      const isShown = row.answer && row.answer.number && row.answer.number <= place.book;
      return !(isShown && (row.state === "kept" || (row.state === "questioned" && askedHere(row))));
    });
  }

  // A question that the page itself asks is not asked twice; one that it asks no more has been answered elsewhere.
  function askedHere(row) {
    if (one(`[data-asked-key="${CSS.escape(row.key)}"]`)) {
      if (!row.seen) queue.change(row, { seen: true });
      return true;
    }
    const answered = Boolean(row.seen && one(`[data-local="${CSS.escape(row.subject)}"]`));
    if (answered) queue.drop(row.key);
    return answered;
  }

  function item(row) {
    const li = made("li", "", "local " + row.state);
    li.append(made("strong", row.says || row.kind), made("span", clock(row.shown_ms) + ", " + WORDS[row.state], "grey"));
    if (row.person !== place.person) li.append(made("p", "Recorded by " + row.name + ": it is sent when " + row.name + " signs in on this tablet."));
    if (row.answer && row.answer.sentence && row.state !== "kept") li.append(made("p", row.answer.sentence));
    if (row.answer && row.answer.remedy && row.state !== "kept") li.append(made("p", row.answer.remedy));
    const act = made("div", "", "row");
    if (row.state === "refused") act.append(doing("again", row, "Correct it"), doing("drop", row, "Leave it out"));
    if (row.state === "questioned") questions(row, act);
    if ((row.state === "waiting" || row.state === "kept") && row.kind !== "withdrawn" && row.person === place.person) act.append(takeBack(row));
    if (act.childElementCount) li.append(act);
    return li;
  }

  function doing(what, row, label) {
    const button = made("button", label, "button");
    button.type = "button";
    button.dataset.do = what;
    button.dataset.key = row.key;
    return button;
  }

  function reply(row, label, kind, content, reason) {
    const form = one("template[data-reply]").content.firstElementChild.cloneNode(true);
    form.dataset.settles = row.key;
    form.dataset.says = label;
    Object.assign(form.elements.kind, { value: kind });
    Object.assign(form.elements.subject, { value: row.subject });
    Object.assign(form.elements.corrects, { value: row.key });
    Object.assign(form.elements.reason, { value: reason });
    for (const [name, text] of Object.entries(content)) {
      const field = made("input");
      Object.assign(field, { type: "hidden", name: "content." + name + (text === true ? ":yes" : ""), value: String(text) });
      form.append(field);
    }
    one("button", form).textContent = label;
    return form;
  }

  function questions(row, act) {
    act.append(reply(row, "It is right", row.kind, { ...row.content, confirmed: true }, "looked again: it is right"));
    if (row.answer.code.startsWith("unit-")) {
      const unit = row.content.unit === "C" ? "F" : "C";
      const temp = row.content.temp.replace(/[^\d.,+−-]/g, "");
      act.append(reply(row, "It was " + temp + " °" + unit, row.kind, { ...row.content, temp, unit, confirmed: true }, "the unit was wrong"));
    }
    act.append(takeBack(row), doing("drop", row, "Leave it"));
  }

  function takeBack(row) {
    const kind = row.kind === "reading" ? "reading_excluded" : "withdrawn";
    const form = reply(row, "Take it back", kind, {}, "pressed by mistake");
    form.dataset.says = "Taken back: " + row.says;
    if (row.state !== "questioned") delete form.dataset.settles;
    return form;
  }

  // A button that is pressed must not be another when it is let go: the press would be lost.
  function showLocal() {
    if (one("[data-local] :active")) return setTimeout(showLocal, 100);
    const shown = local();
    const here = new Set(all("[data-local]").map((box) => box.dataset.local));
    const elsewhere = (row) => !here.has(row.subject);
    all("[data-local]").forEach(function (box) {
      const own = shown.filter((row) => (box.dataset.local ? row.subject === box.dataset.local : elsewhere(row))).reverse();
      const held = one(":focus", box);
      box.replaceChildren(...own.map(item));
      if (held) box.focus();
    });
    const taken = new Set(shown.map((row) => row.corrects).filter(Boolean));
    all("[data-key-of]").forEach((each) => each.classList.toggle("taken-back", taken.has(each.dataset.keyOf)));
    showSteps(shown.filter((row) => row.state !== "refused" && !taken.has(row.key)));
    showContact(shown);
  }

  // The current step is the first that neither the server nor this tablet has as done.
  function showSteps(shown) {
    const done = new Set(shown.filter((row) => row.step).map((row) => row.subject + " " + row.step));
    let open = 0;
    all("[data-step-item]").forEach(function (each) {
      const here = each.dataset.done === "yes" || done.has(each.dataset.subject + " " + each.dataset.stepItem);
      each.classList.toggle("done", here);
      each.classList.toggle("now", !here && open === 0);
      each.classList.toggle("next", !here && open > 0 && open < 3);
      each.classList.toggle("later", !here && open >= 3);
      if (!here) open += 1;
    });
    const end = one("[data-all-done]");
    if (end) end.hidden = open > 0;
  }

  function showContact(shown) {
    const count = (state) => shown.filter((row) => row.state === state).length;
    const waiting = count("waiting");
    const asked = count("questioned") + count("refused");
    const bar = one("[data-contact]");
    const trouble = queue.state.trouble;
    bar.classList.toggle("cut", trouble !== "");
    const since = queue.state.contact || Number(localStorage.getItem("floor-contact") || "0");
    if (queue.state.contact) localStorage.setItem("floor-contact", String(queue.state.contact));
    const parts = [trouble === "" ? (since ? "Connected, " + clock(since) : "Connecting") : since ? "No contact since " + clock(since) : "No contact"];
    if (trouble === "signed-out") parts[0] = "Signed out: sign in again to send";
    else if (trouble === "not-allowed") parts[0] = "Your role here may not record";
    else if (trouble.startsWith("HTTP")) parts[0] = "The server is in trouble (" + trouble + ")";
    one("[data-contact-words]", bar).textContent = parts[0];
    one("[data-waiting]", bar).textContent = waiting ? waiting + " waiting, kept on this tablet" : "nothing waiting";
    one("[data-asked]", bar).textContent = asked ? asked + " to look at" : "";
    one("[data-asked]", bar).hidden = !asked;
    const age = queue.now() - place.madeMs;
    one("[data-age]", bar).textContent = age > 90000 ? "This page is as it was at " + clock(place.madeMs) + "." : "";
    const off = queue.state.offsetMs;
    one("[data-clock]", bar).textContent = Math.abs(off) > SLOW_CLOCK_MS
      ? "This tablet's clock is " + span(off) + (off > 0 ? " slow" : " fast") + ". Times are put right when entries arrive." : "";
    one("[data-sign-in]", bar).hidden = trouble !== "signed-out";
    one("[data-outbox]").hidden = !one("[data-outbox] li");
  }

  function showTimers() {
    const now = queue.now();
    all("[data-until]").forEach(function (each) {
      const left = Date.parse(each.dataset.until) - now;
      each.textContent = Math.abs(left) < 30000 ? "now" : left > 0 ? "in " + span(left) : span(left) + " ago";
      each.classList.toggle("past", left < -30000 && each.dataset.due !== undefined);
    });
    all("[data-left]").forEach(function (each) {
      const left = Date.parse(each.dataset.left) - now;
      each.textContent = span(left) + (left >= 0 ? " left" : " over");
    });
  }

  // The page renews itself where nobody is typing or pressing
  async function renew() {
    if (document.hidden || queue.state.trouble !== "" || queue.state.person !== place.person) return;
    if (queue.state.book === place.book && queue.now() - place.madeMs < 60000) return;
    const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
    if (!answer.ok || answer.redirected) return;
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    const floor = one("#floor", fresh);
    if (!floor || floor.dataset.made < place.made) return;
    let left = false;
    all("[data-live]").forEach(function (each) {
      const other = fresh.getElementById(each.id);
      if (one("form[data-dirty], input:focus, select:focus, :active", each)) left = true;
      else if (other) swap(each, other);
    });
    if (!left) take(floor);
    ready();
  }

  function swap(each, other) {
    const open = all("details[open][id]", each).map((fold) => fold.id);
    const steps = new Set(all(".step.open", each).map((step) => step.dataset.stepItem));
    const whole = one(".steps.all", each);
    const focus = each.contains(document.activeElement) && document.activeElement.id;
    each.replaceChildren(...other.childNodes);
    all("[data-step-item]", each).forEach((step) => step.classList.toggle("open", steps.has(step.dataset.stepItem)));
    if (whole && one(".steps", each)) one(".steps", each).classList.add("all");
    open.forEach((id) => { const fold = document.getElementById(id); if (fold) fold.open = true; });
    const again = focus && document.getElementById(focus);
    if (again) again.focus({ preventScroll: true });
  }

  function take(floor) {
    const said = floor.dataset;
    place = {
      kitchen: said.kitchen, person: Number(said.person), name: said.name, zone: said.zone, pulse: said.pulse, entries: said.entries,
      worker: said.worker, book: Number(said.book), made: said.made, madeMs: Date.parse(said.made),
    };
    queue.begin(place);
  }

  function ready() {
    recall(document);
    showLocal();
    showTimers();
  }

  async function readRows() {
    rows = await queue.list();
    showLocal();
    if (queue.state.book !== null && queue.state.book !== place.book) renewed();
  }

  function renewed() {
    if (!renewing) renewing = renew().catch(() => undefined).finally(() => (renewing = null));
    return renewing;
  }

  async function beat() {
    await queue.beat();
    await renewed();
  }

  document.addEventListener("DOMContentLoaded", async function () {
    const floor = one("#floor");
    if (!floor) return;
    take(floor);
    queue.onChange(readRows);
    setInterval(showTimers, 1000);
    setInterval(beat, BEAT_MS);
    window.addEventListener("online", beat);
    window.addEventListener("offline", beat);
    document.addEventListener("visibilitychange", beat);
    await readRows().catch(() => undefined);
    ready();
    document.documentElement.dataset.floor = "ready";
    await beat();
    if (!navigator.serviceWorker) return;
    await navigator.serviceWorker.register(place.worker).catch(() => undefined);
    const worker = await navigator.serviceWorker.ready;
    const links = all("a[data-keep]").map((each) => each.getAttribute("href"));
    worker.active.postMessage({ keep: Array.from(new Set([location.pathname, ...links])).slice(0, MOST_KEPT) });
  });
})();
