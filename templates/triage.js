"use strict";
// Searching what testers wrote, choosing what it was seen on, and writing down decisions; the page says everything without it.
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
for (const ask of document.querySelectorAll(".ask")) {
  const boxes = Array.from(ask.querySelectorAll("input")), none = boxes.pop(), about = ask.dataset.about;
  const lines = ask.querySelector(".lines"), [same, apart] = lines.querySelectorAll("pre");
  const list = (ids) => "[" + ids.map((id) => '"' + id + '"').join(", ") + "],";
  const write = () => {
    const ticked = boxes.filter((box) => box.checked).map((box) => box.value);
    const others = boxes.filter((box) => !box.checked).map((box) => list([about, box.value]));
    lines.hidden = !ticked.length && !none.checked;
    same.textContent = ticked.length ? list([about, ...ticked]) : "";
    apart.textContent = others.join("\n");
    for (const part of [same, apart]) part.hidden = part.previousElementSibling.hidden = !part.textContent;
  };
  for (const box of boxes) box.addEventListener("change", () => { none.checked &&= !box.checked; write(); });
  none.addEventListener("change", () => { for (const box of boxes) box.checked &&= !none.checked; write(); });
  none.parentElement.hidden = false;
  for (const part of ask.querySelectorAll(":scope > .hint, :scope > .same")) part.hidden = true;
}
