"use strict";
// Searching what testers wrote; the page says everything without it.
for (const box of document.querySelectorAll(".search")) {
  const input = box.querySelector("input"), count = box.querySelector("output");
  const items = box.dataset.of.split(" ").flatMap((id) => Array.from(document.getElementById(id).children));
  const texts = items.map((item) => item.textContent.normalize("NFKC").toLowerCase());
  const look = () => {
    const words = input.value.normalize("NFKC").toLowerCase().split(/\s+/).filter(Boolean);
    let shown = 0;
    items.forEach((item, rank) => {
      item.hidden = !words.every((word) => texts[rank].includes(word));
      shown += item.hidden ? 0 : 1;
    });
    count.textContent = words.length ? shown + " of " + items.length : "";
  };
  input.addEventListener("input", look);
  box.hidden = false;
  look();
}
