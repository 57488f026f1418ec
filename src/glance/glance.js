"use strict";
// Puts each change into the page, has all of it find room, and says so when there can be no more changes: an old value must not
// pass for the one in hand.
(() => {
  const root = document.documentElement;
  const page = document.getElementById("page");
  const lost = document.getElementById("lost");
  const wide = (e) => e.scrollWidth > e.clientWidth + 1;
  const fits = () => page.scrollHeight <= page.clientHeight && ![...page.querySelectorAll(".big, .name, header *")].some(wide);
  // Smaller letters rather than any of it out of sight: first of what was said and what is open, then of all but the value in hand.
  // The picture goes before the letters get small.
  const fit = () => {
    const tried = (news, size, cramped) => {
      root.style.setProperty("--news", news / 100);
      root.style.setProperty("--fit", size / 100);
      root.classList.toggle("cramped", cramped);
      return fits();
    };
    for (const news of [100, 92, 84, 76]) if (tried(news, 100, false)) return;
    for (let size = 96; size >= 50; size -= 4) {
      if (tried(80, size, false) || size <= 80 && tried(80, size, true)) return;
    }
  };
  const tell = (gone) => {
    if (lost.hidden !== gone) return;
    lost.hidden = !gone;
    // Nothing is known any more of who listens.
    root.classList.toggle("stale", gone);
    fit();
  };
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
