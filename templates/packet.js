// Ticks stay: they are kept on this device under the build's code, and nothing is sent anywhere. Where nothing can be kept, boxes still tick.
(() => {
  "use strict";
  const key = document.documentElement.dataset.key;
  const boxes = [...document.querySelectorAll("input[type=checkbox]")];
  let kept;
  try {
    kept = new Set(JSON.parse(localStorage.getItem(key) || "[]"));
    localStorage.setItem(key, JSON.stringify([...kept]));
  } catch {
    return;
  }
  const keep = () => {
    try {
      localStorage.setItem(key, JSON.stringify(boxes.filter((box) => box.checked).map((box) => box.id)));
    } catch {
      // Full or forbidden meanwhile: the boxes stay as they are until the page is closed.
    }
  };
  for (const box of boxes) {
    box.checked = kept.has(box.id);
    box.addEventListener("change", keep);
  }
  const clear = document.getElementById("clear");
  if (clear && boxes.length) {
    clear.parentElement.hidden = false;
    clear.addEventListener("click", () => {
      for (const box of boxes) box.checked = false;
      keep();
    });
  }
})();
