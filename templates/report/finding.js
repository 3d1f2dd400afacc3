// Search, kinds, and the order of the assets.
const ORDERS = [["author", "your order"], ["size", "largest first"], ["name", "by name"], ["address", "as in the image"]];

let putBack = () => {};
document.addEventListener("refreshing", () => putBack());

function showFinding(box) {
  const kept = choices("finding", { words: "", kind: "", order: "author" });
  const cards = document.getElementById("cards"), groups = [...cards.querySelectorAll(".group")], assets = [...cards.querySelectorAll("article")];
  cards.querySelector(".none")?.remove();
  const texts = new Map(assets.map((one) => [one, `${one.dataset.name} ${one.dataset.kind} ${one.querySelector(".about").textContent}`.toLowerCase()]));
  const places = new Map(page.blocks.map((block) => [block.name, block.offset]));
  const found = make("output", { className: "found" }), none = make("p", { className: "none note", hidden: true }, "No asset has all of these words.");
  const words = make("input", { type: "search", value: kept.words, "aria-label": "Find an asset", placeholder: "Find an asset ( / )", oninput: () => set("words")(words.value) });
  // Puts assets where assets are, so that what is between them, headings included, stays as the page has it.
  function place(wanted) {
    if (wanted.every((one, rank) => one === cards.querySelectorAll("article")[rank])) return;
    const places = assets.map((one) => {
      const mark = document.createComment("");
      one.replaceWith(mark);
      return mark;
    });
    places.sort((one, other) => (one.compareDocumentPosition(other) & Node.DOCUMENT_POSITION_FOLLOWING ? -1 : 1));
    places.forEach((mark, rank) => mark.replaceWith(wanted[rank]));
  }

  const kinds = [...new Set(assets.map((one) => one.dataset.kind))];

  function arrange() {
    const wanted = kept.words.toLowerCase().split(/\s+/).filter(Boolean);
    const shows = (one) => (!kept.kind || one.dataset.kind === kept.kind) && wanted.every((word) => texts.get(one).includes(word));
    const shown = assets.filter(shows);
    assets.forEach((one) => { one.hidden = !shown.includes(one); });
    const own = kept.order === "author";
    groups.forEach((head) => { head.hidden = !own || !shown.some((one) => one.dataset.kind === head.dataset.group); });
    const number = (one, key) => Number(one.dataset[key]);
    const by = {
      size: (one, other) => number(other, "bytes") - number(one, "bytes") || number(one, "rank") - number(other, "rank"),
      name: (one, other) => (one.dataset.name < other.dataset.name ? -1 : 1),
      address: (one, other) => places.get(one.dataset.name) - places.get(other.dataset.name),
    }[kept.order];
    place(by ? [...assets].sort(by) : assets);
    none.hidden = shown.length > 0;
    found.textContent = shown.length < assets.length ? `${shown.length} of ${counted(assets.length, "asset")}` : counted(assets.length, "asset");
  }

  const set = (key) => (value) => {
    kept[key] = value;
    arrange();
  };
  words.addEventListener("keydown", (event) => {
    const first = assets.find((one) => !one.hidden);
    if (event.key === "Enter" && first) {
      const top = [...cards.querySelectorAll("article")].find((one) => !one.hidden);
      location.hash = `#${top.id}`;
    } else if (event.key === "Escape") {
      words.value = "";
      set("words")("");
    }
  });
  box.replaceChildren(make("div", { className: "tools", role: "search" }, words, list("Kind", [["", "all kinds"], ...kinds.map((one) => [one, one])], kept.kind, set("kind")),
    list("Order", ORDERS, kept.order, set("order")), found));
  cards.append(none);
  arrange();
  // A page that is refreshed is compared with the new one part by part, in the order of both.
  putBack = () => place(assets);
}

// A slash begins a search, unless something is being typed.
document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.target.closest?.("input, select, textarea")) return;
  event.preventDefault();
  document.querySelector(".bench input[type=search]")?.focus();
});

// A link to an asset that a search has hidden shows it.
addEventListener("hashchange", () => {
  const target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (target?.hidden) {
    chosen.delete("finding");
    document.querySelectorAll("[data-live=finding]").forEach(showFinding);
    target.scrollIntoView();
  }
});
