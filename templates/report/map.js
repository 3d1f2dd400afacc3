// The image to scale, from its first byte to its last: every asset and what is between them, as near as the reader wants.
const NEAREST = 10; // doublings

function showMap(box) {
  const kept = choices("map", { near: 0, at: 0 });
  const strip = make("div", { className: "strip" });
  const scroll = make("div", { className: "scroll", role: "group", "aria-label": "The image to scale" }, strip);
  const near = make("input", { type: "range", min: 0, max: NEAREST, value: kept.near, oninput: () => zoom(Number(near.value)) });
  const about = make("dl", { className: "block" });
  const blocks = page.blocks.map((block, rank) => button(block.name, () => select(rank), {
    className: block.kind ? `c${page.kinds.indexOf(block.kind)}` : "gap free", tabIndex: rank === kept.at ? 0 : -1,
    title: `${block.name}: ${size(block.bytes)}`, onfocus: () => select(rank),
  }));

  // Keeps what is chosen in the middle.
  function zoom(steps) {
    kept.near = between(0, steps, NEAREST);
    near.value = kept.near;
    const times = 2 ** kept.near, width = scroll.clientWidth * times;
    strip.style.width = `${100 * times}%`;
    strip.querySelectorAll("span").forEach((one) => one.remove());
    page.blocks.forEach((block, rank) => {
      const share = block.bytes / page.size;
      blocks[rank].style.left = `${100 * block.offset / page.size}%`;
      blocks[rank].style.width = `${100 * share}%`;
      blocks[rank].classList.toggle("small", share * width < 30);
    });
    const step = 2 ** Math.ceil(Math.log2(page.size / Math.max(2, width / 110)));
    for (let at = 0; at < page.size; at += step) strip.append(make("span", { style: `left: ${100 * at / page.size}%` }, `0x${at.toString(16)}`));
    centre();
  }

  function centre() {
    const { offset, bytes } = page.blocks[kept.at];
    scroll.scrollLeft = strip.clientWidth * (offset + bytes / 2) / page.size - scroll.clientWidth / 2;
  }

  function select(rank) {
    blocks[kept.at].tabIndex = -1;
    blocks[kept.at].setAttribute("aria-pressed", "false");
    kept.at = rank;
    blocks[rank].tabIndex = 0;
    blocks[rank].setAttribute("aria-pressed", "true");
    const block = page.blocks[rank], after = page.blocks[rank + 1];
    const facts = [["Block", block.name], ["Kind", block.kind || "no asset"], ["Bytes", grouped(block.bytes)], ["Offset", hex(block.offset)],
      ["Address", hex(block.address)], ["Padding after it", block.kind && after && !after.kind ? grouped(after.bytes) : "none"]];
    if (block.crc32) facts.push(["CRC-32", block.crc32]);
    about.replaceChildren(...facts.map(([word, text]) => {
      const shown = word === "Block" && block.kind ? make("a", { href: `#asset-${block.name}` }, text) : text;
      return make("div", {}, make("dt", {}, word), make("dd", {}, shown));
    }));
  }

  strip.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    const to = event.key === "Home" ? 0 : event.key === "End" ? blocks.length - 1 : step && between(0, kept.at + step, blocks.length - 1);
    if (to !== undefined) {
      event.preventDefault();
      blocks[to].focus({ preventScroll: true });
      centre();
    } else if ("+-".includes(event.key)) zoom(kept.near + (event.key === "+" ? 1 : -1));
  });
  strip.append(...blocks);
  box.replaceChildren(
    make("div", { className: "tools" }, button("−", () => zoom(kept.near - 1), { "aria-label": "Farther" }), labelled("Zoom", near),
      button("+", () => zoom(kept.near + 1), { "aria-label": "Nearer" })),
    scroll, make("div", { role: "status" }, about));
  select(kept.at);
  zoom(kept.near);
}
