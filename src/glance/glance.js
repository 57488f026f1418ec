"use strict";
// Puts each change into the page, and says so when there can be no more: an old value must not pass for the one in hand.
(() => {
  const page = document.getElementById("page");
  const lost = document.getElementById("lost");
  let last = Date.now();
  const alive = () => { last = Date.now(); lost.hidden = true; };
  const source = new EventSource(page.dataset.events);
  source.onopen = alive;
  source.onmessage = (event) => { page.innerHTML = event.data; alive(); };
  source.addEventListener("beat", alive);
  source.onerror = () => { lost.hidden = false; };
  setInterval(() => { if (Date.now() - last > 12000) lost.hidden = false; }, 1000);
})();
