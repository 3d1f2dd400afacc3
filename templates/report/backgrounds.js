// A background: the whole of it, with a window of the screen's size to drag, and what the screen shows then.
function showBackground(box) {
  const name = box.dataset.name, look = page.looks[name], [width, height] = look.frame;
  const screen = [Math.min(look.window[0], width), Math.min(look.window[1], height)], room = [width - screen[0], height - screen[1]];
  const tickMs = 1000 * look.tick[0] / look.tick[1], moves = look.pan.some((step, axis) => step && room[axis]);
  const kept = choices(`background ${name}`, { x: 0, y: 0, zoom: between(1, Math.floor(box.clientWidth / (screen[0] * shape(look, 1)[0])), 3), variant: "", cells: false });
  const canvas = make("canvas", { role: "img", "aria-label": name }), said = make("p", { className: "said", role: "status" });
  const toggle = button("Pan", () => (playing.has(canvas) ? pause() : run()), { className: "first" });
  const over = document.getElementById(`still-${name}`).parentElement;
  const frame = button("", null, { className: "window", "aria-label": "Window of the screen" });
  let at = [0, 0];

  const speed = () => look.pan.map((step, axis) => step && `${step} ${axis ? "down" : "across"}`).filter(Boolean).join(", ");

  function place() {
    over.querySelector(".window")?.remove();
    if (room[0] || room[1]) over.append(frame);
    frame.style.width = `${100 * screen[0] / width}%`;
    frame.style.height = `${100 * screen[1] / height}%`;
  }

  async function draw() {
    const picture = await pictureOf(name, kept.variant), scale = shape(look, kept.zoom), pen = sized(canvas, ...screen, scale);
    pen.drawImage(picture, kept.x, kept.y, ...screen, 0, 0, canvas.width, canvas.height);
    if (kept.cells) {
      pen.fillStyle = "#ffffff90";
      for (let x = -kept.x % look.cell[0]; x < screen[0]; x += look.cell[0]) pen.fillRect(Math.round(x * scale[0]), 0, 1, canvas.height);
      for (let y = -kept.y % look.cell[1]; y < screen[1]; y += look.cell[1]) pen.fillRect(0, Math.round(y * scale[1]), canvas.width, 1);
    }
    frame.style.left = `${100 * kept.x / width}%`;
    frame.style.top = `${100 * kept.y / height}%`;
    frame.setAttribute("aria-label", `Window of the screen at ${kept.x}, ${kept.y}. Drag it, or press arrow keys.`);
    canvas.setAttribute("aria-label", `${name} as the screen shows it from ${kept.x}, ${kept.y}`);
    canvas.dataset.x = kept.x;
    canvas.dataset.y = kept.y;
    said.textContent = room[0] || room[1] ? `The screen's ${screen.join(" × ")} pixels from ${kept.x}, ${kept.y}` : `${screen.join(" × ")} pixels, all on the screen at once`;
  }

  function move(x, y) {
    [kept.x, kept.y] = [between(0, Math.round(x), room[0]), between(0, Math.round(y), room[1])];
    return draw();
  }

  // From the left or top edge to the other and back, as many pixels from one screen picture to the next as the project says.
  function run() {
    const from = [kept.x, kept.y];
    toggle.textContent = "Pause";
    said.setAttribute("aria-live", "off");
    play(canvas, (ms) => {
      const ticks = Math.floor(ms / tickMs);
      const [x, y] = room.map((most, axis) => {
        const gone = (from[axis] + ticks * Math.abs(look.pan[axis])) % (2 * most || 1);
        return gone > most ? 2 * most - gone : gone;
      });
      if (x !== kept.x || y !== kept.y) move(x, y);
    });
  }

  function pause() {
    stop(canvas);
    toggle.textContent = "Pan";
    said.removeAttribute("aria-live");
  }

  frame.addEventListener("pointerdown", (event) => {
    pause();
    frame.setPointerCapture(event.pointerId);
    at = [event.clientX, event.clientY, kept.x, kept.y];
  });
  frame.addEventListener("pointermove", (event) => {
    if (!frame.hasPointerCapture(event.pointerId)) return;
    const shown = over.getBoundingClientRect();
    move(at[2] + (event.clientX - at[0]) * width / shown.width, at[3] + (event.clientY - at[1]) * height / shown.height);
  });
  frame.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!step) return;
    event.preventDefault();
    pause();
    const by = event.shiftKey ? 1 : 8;
    move(kept.x + by * step[0], kept.y + by * step[1]);
  });
  const set = (key) => (value) => {
    kept[key] = key === "zoom" ? Number(value) : value;
    draw();
  };
  box.replaceChildren(make("div", { className: "tools" },
    ...(moves ? [toggle, make("span", { className: "note" }, `${speed()} from one screen picture to the next`)] : []), list("Size", ZOOMS.slice(0, 4), kept.zoom, set("zoom")),
    ...paletteList(look, kept.variant, set("variant")), tick("Cells", kept.cells, set("cells"))),
  make("div", { className: "stage" }, canvas), said);
  place();
  pause();
  return () => move(kept.x, kept.y);
}
