// Runs on the timeline can be dragged, or moved with the arrow keys; the form below it says whether that fits.
(function () {
  "use strict";
  const SVG = "http://www.w3.org/2000/svg";

  function ready() {
    const place = document.querySelector("[data-move]");
    const grip = JSON.parse(document.getElementById("grip").textContent);
    const svg = place.querySelector("svg");
    const panel = document.querySelector("[data-move-here]");
    const said = document.querySelector("[data-move-said]");
    const clock = new Intl.DateTimeFormat("en-GB", {
      weekday: "short",
      hour: "2-digit",
      minute: "2-digit",
      timeZone: place.dataset.zone,
    });
    const step = grip.px_per_min < 0.3 ? 15 : 5;
    let moved = null; // {bar, lane, minute, ghost}: where a run is held over the timeline
    let held = null; // the bar under a pressed pointer, until it is dragged or let go
    let asking = 0;
    document.documentElement.classList.add("moves");

    const bar = (target) => target.closest && target.closest("a[data-run]");
    const snapped = (minute) => Math.round(minute / step) * step;
    const startOf = (link) => Number(link.dataset.start);

    function laneOf(link) {
      const box = link.querySelector("rect").getBBox();
      return grip.lanes.findIndex((lane) => box.y >= lane.top - 1 && box.y < lane.bottom);
    }

    function laneAt(y) {
      const at = grip.lanes.findIndex((lane) => y >= lane.top && y < lane.bottom);
      if (at >= 0) return at;
      return y < grip.lanes[0].top ? 0 : grip.lanes.length - 1;
    }

    function pointIn(event) {
      return new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    }

    function ghost(link) {
      const box = link.querySelector("rect").getBBox();
      const group = document.createElementNS(SVG, "g");
      group.setAttribute("class", "ghost");
      const frame = document.createElementNS(SVG, "rect");
      frame.setAttribute("width", box.width);
      frame.setAttribute("height", box.height);
      const words = document.createElementNS(SVG, "text");
      words.setAttribute("x", 4);
      words.setAttribute("y", -4);
      words.setAttribute("font-size", 13);
      group.append(frame, words);
      svg.append(group);
      return group;
    }

    function take(link) {
      if (moved && moved.bar === link) return;
      putBack();
      moved = { bar: link, lane: laneOf(link), minute: startOf(link), ghost: ghost(link) };
    }

    function putBack() {
      if (moved) moved.ghost.remove();
      moved = null;
    }

    function put(lane, minute) {
      moved.lane = Math.min(Math.max(lane, 0), grip.lanes.length - 1);
      moved.minute = minute;
      const shown = moved.bar.querySelector("rect").getBBox().x;
      const x = shown + (minute - startOf(moved.bar)) * grip.px_per_min;
      moved.ghost.setAttribute("transform", `translate(${x} ${grip.lanes[moved.lane].top + 3})`);
      const at = new Date(Date.parse(place.dataset.origin) + minute * 60000);
      moved.ghost.querySelector("text").textContent =
        `${moved.bar.dataset.run} ${clock.format(at)}, ${grip.lanes[moved.lane].name}`;
    }

    async function ask() {
      const told = new URLSearchParams({
        run: moved.bar.dataset.run,
        pot: grip.lanes[moved.lane].pot,
        minute: moved.minute,
      });
      const mine = ++asking;
      said.textContent = "";
      try {
        const answer = await fetch(place.dataset.move + "?" + told, { headers: { Accept: "text/html" } });
        if (!answer.ok || answer.redirected) throw new Error(String(answer.status));
        const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").body.firstElementChild;
        if (mine !== asking) return;
        panel.replaceChildren(fresh);
        if (moved) moved.ghost.scrollIntoView({ block: "nearest", inline: "nearest" });
        said.textContent = fresh.querySelector("[data-verdict-here]").textContent.replace(/\s+/g, " ").trim();
      } catch {
        if (mine === asking) said.textContent = "The kitchen's server does not answer. Try it again.";
      }
    }

    // With a mouse or pen; a finger scrolls the timeline.
    svg.addEventListener("dragstart", (event) => event.preventDefault());
    svg.addEventListener("pointerdown", function (event) {
      const link = bar(event.target);
      if (!link || event.button !== 0 || event.pointerType === "touch") return;
      held = { link, x: event.clientX, y: event.clientY, at: pointIn(event), dragged: false };
    });
    window.addEventListener("pointermove", function (event) {
      if (!held) return;
      if (!held.dragged && Math.hypot(event.clientX - held.x, event.clientY - held.y) < 6) return;
      if (!held.dragged) take(held.link);
      held.dragged = true;
      const at = pointIn(event);
      const minute = startOf(held.link) + (at.x - held.at.x) / grip.px_per_min;
      put(laneAt(at.y), snapped(minute));
      event.preventDefault();
    });
    window.addEventListener("pointerup", function () {
      if (held && held.dragged && moved) {
        ask();
        window.addEventListener("click", stay, { capture: true, once: true });
        setTimeout(() => window.removeEventListener("click", stay, { capture: true }), 0);
      }
      held = null;
    });
    window.addEventListener("pointercancel", function () {
      held = null;
      putBack();
    });
    function stay(event) {
      event.preventDefault();
      event.stopPropagation();
    }

    const KEYS = { ArrowLeft: [0, -step], ArrowRight: [0, step], ArrowUp: [-1, 0], ArrowDown: [1, 0] };
    let waiting = 0;
    svg.addEventListener("keydown", function (event) {
      const link = bar(event.target);
      if (!link || event.altKey || event.ctrlKey || event.metaKey) return;
      if (KEYS[event.key]) {
        const [lanes, minutes] = KEYS[event.key];
        event.preventDefault();
        take(link);
        put(moved.lane + lanes, snapped(moved.minute + minutes * (event.shiftKey ? 12 : 1)));
        clearTimeout(waiting);
        waiting = setTimeout(ask, 300);
      } else if (event.key === "Enter" && moved && moved.bar === link && panel.querySelector("form")) {
        event.preventDefault();
        panel.querySelector("select").focus();
      }
    });
    function leave() {
      const bar = moved.bar;
      clearTimeout(waiting);
      asking += 1;
      held = null;
      putBack();
      if (panel.contains(document.activeElement)) bar.focus();
      panel.replaceChildren();
      said.textContent = "The run stays where it is.";
    }
    document.addEventListener("keydown", function (event) {
      if (event.key === "Escape" && moved) leave();
    });
    panel.addEventListener("click", function (event) {
      if (event.target.closest("[data-put-back]") && moved) leave();
    });
  }

  document.addEventListener("DOMContentLoaded", ready);
})();
