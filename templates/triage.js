"use strict";
// Searching what testers wrote, and choosing what it was seen on; the page says everything without it.
const FIELDS = ["pad", "console", "cartridge", "screen"];
for (const box of document.querySelectorAll(".search")) {
  const input = box.querySelector("input"), count = box.querySelector("output");
  const items = box.dataset.of.split(" ").flatMap((id) => Array.from(document.getElementById(id).children));
  const texts = items.map((item) => item.textContent.normalize("NFKC").toLowerCase());
  const chosen = [];
  const look = () => {
    const words = input.value.normalize("NFKC").toLowerCase().split(/\s+/).filter(Boolean);
    const limits = chosen.filter(({ select }) => select.value);
    let shown = 0;
    items.forEach((item, rank) => {
      const fits = words.every((word) => texts[rank].includes(word)) && limits.every(({ select, said }) => said[rank].has(select.value));
      item.hidden = !fits;
      shown += fits ? 1 : 0;
    });
    count.textContent = words.length || limits.length ? shown + " of " + items.length : "";
  };
  for (const field of FIELDS) {
    const said = items.map((item) => new Set(Array.from(item.querySelectorAll("[data-" + field + "]"), (one) => one.textContent)));
    const values = Array.from(new Set(said.flatMap((some) => Array.from(some)))).sort();
    if (values.length > 1) {
      const label = document.createElement("label"), select = document.createElement("select");
      select.append(new Option("any " + field, ""), ...values.map((value) => new Option(value, value)));
      label.append(select);
      select.setAttribute("aria-label", field);
      select.addEventListener("change", look);
      box.insertBefore(label, count);
      chosen.push({ select, said });
    }
  }
  input.addEventListener("input", look);
  box.hidden = false;
  look();
}
