// Sounds begin quietly, one at a time. A volume that the reader has set stays.
const QUIET = 0.2;
const quietened = new WeakSet();

function quietenSounds() {
  for (const one of document.querySelectorAll("audio")) {
    if (quietened.has(one)) continue;
    quietened.add(one);
    one.volume = QUIET;
    one.addEventListener("play", () => document.querySelectorAll("audio").forEach((other) => other !== one && other.pause()));
  }
}
