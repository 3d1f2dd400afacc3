// Fills the places that the page keeps for the script, and fills them again after a refresh, with what was chosen.
const PARTS = { map: showMap, scene: showScene, seen: showSeen, finding: showFinding, sprite: showSprite, background: showBackground, font: showFont, notes: showNotes };
let watcher = null;

function start() {
  page = JSON.parse(document.getElementById("data").textContent);
  playing.clear();
  decoded.clear();
  watcher?.disconnect();
  // Pictures are decoded when they are about to be seen, so that the page is there at once.
  const waiting = new Map();
  watcher = new IntersectionObserver((seen) => seen.filter((one) => one.isIntersecting).forEach((one) => {
    watcher.unobserve(one.target);
    waiting.get(one.target)();
  }), { rootMargin: "400px" });
  for (const box of document.querySelectorAll("[data-live]")) {
    const draw = PARTS[box.dataset.live]?.(box);
    if (typeof draw !== "function") continue;
    waiting.set(box, draw);
    watcher.observe(box);
  }
  quietenSounds();
}

document.documentElement.classList.add("scripted");
document.addEventListener("refreshed", start);
start();
