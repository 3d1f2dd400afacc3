"use strict";
// What is typed stays in this browser (localStorage) until it is cleared; nothing is sent anywhere by this page.
const form = document.getElementById("form");
const columns = JSON.parse(document.getElementById("columns").textContent); // [field, heading of its column]
const said = document.getElementById("said");
const key = form.dataset.stem;

function answers() {
  const data = new FormData(form);
  const now = new Date().toISOString();
  return columns.map(([field, heading]) => [heading, field === "time" ? now : String(data.get(field) ?? "").trim()]);
}

function keep() {
  try {
    localStorage.setItem(key, JSON.stringify(Object.fromEntries(new FormData(form))));
  } catch { /* a browser may keep nothing for files; the form works without */ }
  prepare();
}

function prepare() {
  form.querySelector("#mail").href = mail();
}

function restore() {
  let kept = {};
  try {
    kept = JSON.parse(localStorage.getItem(key) ?? "{}");
  } catch { /* as above */ }
  const link = new URLSearchParams(location.search);
  const first = { build: link.get("b") ?? form.dataset.build, tester: link.get("t") ?? "" };
  for (const [field] of columns) {
    const parts = form.querySelectorAll(`[name="${field}"]`);
    const value = kept[field] || first[field] || "";
    for (const part of parts) {
      if (part.type === "radio") part.checked = part.value === value;
      else if (part.type !== "hidden") part.value = value; // a picture must be chosen again
    }
  }
  prepare(); // nothing is written here: an empty form must never replace what is kept
}

// RFC 4180: every cell in quotes, quotes doubled, lines end in CRLF.
function table() {
  const row = (cells) => cells.map((cell) => `"${cell.replaceAll('"', '""')}"`).join(",") + "\r\n";
  const all = answers();
  return row(all.map((one) => one[0])) + row(all.map((one) => one[1]));
}

function text() {
  return answers().filter((one) => one[1]).map(([heading, answer]) => `${heading}:\n${answer}\n`).join("\n");
}

// RFC 6068: lines of a body end in %0D%0A.
function mail() {
  const body = text().replaceAll("\r\n", "\n").replaceAll("\n", "\r\n");
  return `mailto:?subject=${encodeURIComponent(form.dataset.stem)}&body=${encodeURIComponent(body)}`;
}

function whole() {
  const data = new FormData(form);
  const lacking = [...form.querySelectorAll("[data-needed]")].find((part) => !String(data.get(part.name) ?? "").trim());
  said.textContent = lacking ? form.dataset.lacking : "";
  lacking?.focus();
  return !lacking;
}

document.getElementById("save").addEventListener("click", () => {
  if (!whole()) return;
  const url = URL.createObjectURL(new Blob(["\ufeff" + table()], { type: "text/csv" }));
  const anchor = document.createElement("a");
  // Two reports of one build must not take each other's place in a folder.
  anchor.download = `${form.dataset.stem}-${new Date().toISOString().replace(/[^0-9]/g, "").slice(0, 14)}.csv`;
  anchor.href = url;
  anchor.click();
  setTimeout(() => URL.revokeObjectURL(url), 10000);
  said.textContent = form.dataset.done;
});

document.getElementById("copy").addEventListener("click", async () => {
  if (!whole()) return;
  try {
    await navigator.clipboard.writeText(text());
    said.textContent = form.dataset.copied;
  } catch {
    said.textContent = form.dataset.refused;
  }
});

document.getElementById("mail").addEventListener("click", (event) => {
  if (!whole()) event.preventDefault();
});

document.getElementById("empty").addEventListener("click", () => {
  if (!confirm(form.dataset.sure)) return;
  form.reset();
  try {
    localStorage.removeItem(key);
  } catch { /* as above */ }
  document.getElementById("shown")?.removeAttribute("src");
  restore();
});

document.getElementById("f-picture")?.addEventListener("change", (event) => {
  const file = event.target.files[0];
  form.querySelector('[name="picture"]').value = file ? file.name : "";
  const shown = document.getElementById("shown");
  if (file && file.type.startsWith("image/")) shown.src = URL.createObjectURL(file);
  else shown.removeAttribute("src");
  keep();
});

form.addEventListener("input", keep);
restore();
window.addEventListener("pageshow", restore); // after whatever the browser itself puts back into a form
