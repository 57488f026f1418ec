"use strict";
// Puts each change into the page, has all of it find room, and says so when there can be no more changes: an old value must not
// pass for the one in hand.
(() => {
  const root = document.documentElement;
  const page = document.getElementById("page");
  const lost = document.getElementById("lost");
  const wide = (e) => e.scrollWidth > e.clientWidth + 1;
  const fits = () => page.scrollHeight <= page.clientHeight + 1 && ![...page.querySelectorAll(".big, .name, header *")].some(wide);
  // Smaller letters rather than any of it out of sight; the picture goes before the letters get small.
  const fit = () => {
    for (let size = 100; size >= 50; size -= 4) {
      root.style.setProperty("--fit", size / 100);
      for (const cramped of size > 80 ? [false] : [false, true]) {
        root.classList.toggle("cramped", cramped);
        if (fits()) return;
      }
    }
  };
  const tell = (gone) => { if (lost.hidden === gone) { lost.hidden = !gone; fit(); } };
  let last = Date.now();
  const alive = () => { last = Date.now(); tell(false); };
  const source = new EventSource(page.dataset.events);
  source.onopen = alive;
  source.onmessage = (event) => { page.innerHTML = event.data; fit(); alive(); };
  source.addEventListener("beat", alive);
  source.onerror = () => tell(true);
  setInterval(() => { if (Date.now() - last > 12000) tell(true); }, 1000);
  addEventListener("resize", fit);
  fit();
})();
