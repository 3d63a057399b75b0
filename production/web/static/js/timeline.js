// The days of a long timeline stay in sight while the page is moved; without scripts they stay where they are.
(function () {
  "use strict";

  function follow() {
    document.querySelectorAll(".drawing-pair").forEach(function (pair) {
      const head = pair.querySelector(".pinned-head");
      if (!head) return;
      const box = pair.getBoundingClientRect();
      const most = Math.max(0, box.height - 4 * head.offsetHeight);
      const shift = Math.round(Math.min(Math.max(0, -box.top), most));
      pair.querySelectorAll(".pinned-head, .pinned-corner").forEach(function (part) {
        part.hidden = shift === 0;
        part.style.transform = `translateY(${shift}px)`;
      });
    });
  }

  document.addEventListener("DOMContentLoaded", follow);
  window.addEventListener("scroll", follow, { passive: true });
  window.addEventListener("resize", follow);
})();
