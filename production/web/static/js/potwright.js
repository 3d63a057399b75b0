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
        const waiting = fresh.dataset.poll !== undefined;
        if (!waiting && fresh.dataset.then) {
          window.location.assign(fresh.dataset.then);
          return;
        }
        element.replaceWith(fresh);
        if (waiting) poll(fresh);
        else document.querySelectorAll("[data-while-waiting]").forEach((button) => button.remove());
      } catch {
        element.dataset.pollSeconds = String(Math.min(seconds * 2, 30));
        poll(element);
      }
    }, seconds * 1000);
  }

  document.addEventListener("DOMContentLoaded", function () {
    document.querySelectorAll("[data-poll]").forEach(poll);
    // A long drawing opens where the plan is now.
    document.querySelectorAll("[data-show-share]").forEach(function (element) {
      element.scrollLeft = element.scrollWidth * Number(element.dataset.showShare) - element.clientWidth / 3;
    });
  });
})();
