// What all parts use: the page's data, elements, and what the reader has chosen, which outlives a page that is refreshed.
const chosen = new Map();
let page = null;

// Returns an element. A property that begins with "on" is a listener; one that elements of its kind do not have is an attribute.
function make(tag, given = {}, ...inside) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(given)) {
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name in node) node[name] = value;
    else node.setAttribute(name, value);
  }
  node.append(...inside);
  return node;
}

const button = (words, onclick, given = {}) => make("button", { type: "button", onclick, ...given }, words);
const labelled = (words, control) => make("label", {}, make("span", {}, words), control);

// Returns a labelled list; what was chosen is handed on as text.
function list(words, options, value, choose) {
  const control = make("select", { onchange: () => choose(control.value) });
  for (const [one, shown] of options) control.append(make("option", { value: one, selected: String(one) === String(value) }, shown));
  return labelled(words, control);
}

function tick(words, checked, choose) {
  const control = make("input", { type: "checkbox", checked, onchange: () => choose(control.checked) });
  return make("label", {}, control, words);
}

// Returns what was chosen for a part of the page, first as it is given.
function choices(key, first) {
  if (!chosen.has(key)) chosen.set(key, { ...first });
  return chosen.get(key);
}

const grouped = (count) => count.toLocaleString("en");
const counted = (count, word) => `${grouped(count)} ${word}${count === 1 ? "" : "s"}`;
const hex = (number) => `0x${number.toString(16).padStart(8, "0")}`;
const between = (least, value, most) => Math.max(least, Math.min(value, most));

// Sizes as the rest of the page has them: whole bytes, then one decimal of a binary unit.
function size(bytes) {
  const units = ["KiB", "MiB", "GiB"];
  if (bytes < 1024) return counted(bytes, "byte");
  let value = bytes / 1024, unit = 0;
  while (value >= 1024 && unit < units.length - 1) {
    value /= 1024;
    unit += 1;
  }
  return `${Number.isInteger(value) ? value : value.toFixed(1)} ${units[unit]}`;
}
