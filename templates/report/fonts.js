// A font: a line to type, set as a program sets it, each glyph's box at the pen, which its advance moves on.
function showFont(box) {
  const name = box.dataset.name, look = page.looks[name], [width, height] = look.frame;
  const ranks = new Map(look.glyphs.map(([code], rank) => [code, rank]));
  const has = (text) => [...text].every((letter) => ranks.has(letter.codePointAt(0)));
  const first = ["The quick brown fox jumps over the lazy dog.", "THE QUICK BROWN FOX", "0123456789"].find(has);
  const some = look.glyphs.slice(0, 24).map(([code]) => String.fromCodePoint(code)).join("");
  const kept = choices(`font ${name}`, { text: first ?? some, zoom: 2, ground: look.ground, variant: "" });
  const canvas = make("canvas", { role: "img", "aria-label": name }), said = make("p", { className: "said", role: "status" });
  const board = make("div", { className: "board" }, canvas);
  const line = make("input", { type: "text", className: "wide", value: kept.text, maxLength: 200, oninput: () => set("text")(line.value) });

  async function draw() {
    const picture = await pictureOf(name, kept.variant), scale = shape(look, kept.zoom);
    const letters = [...kept.text], known = letters.map((letter) => ranks.get(letter.codePointAt(0))).filter((rank) => rank !== undefined);
    const advance = known.reduce((sum, rank) => sum + look.glyphs[rank][1], 0);
    const pen = sized(canvas, Math.max(advance + width, 1), Math.max(height, look.line_height), scale);
    let at = 0;
    for (const rank of known) {
      drawFrame(pen, picture, look, rank, Math.round(at * scale[0]), 0, scale);
      at += look.glyphs[rank][1];
    }
    const missing = [...new Set(letters.filter((letter) => !ranks.has(letter.codePointAt(0))))];
    said.textContent = `${counted(advance, "pixel")} wide${missing.length ? `; not in the font: ${missing.join(" ")}` : ""}`;
    canvas.setAttribute("aria-label", `${kept.text} in ${name}`);
    canvas.dataset.advance = advance;
    board.className = `board ${kept.ground}`;
  }

  const set = (key) => (value) => {
    kept[key] = key === "zoom" ? Number(value) : value;
    draw();
  };
  box.replaceChildren(make("div", { className: "tools" }, labelled("Type a line", line)), make("div", { className: "stage" }, board), said,
    make("div", { className: "tools" }, list("Size", ZOOMS, kept.zoom, set("zoom")), list("Ground", GROUNDS, kept.ground, set("ground")),
      ...paletteList(look, kept.variant, set("variant"))));
  return draw;
}
