// A sprite: its animations at the game's timing, or step by step, up to eight times its size, over one another, with what is noted on it.
const GROUNDS = [["chequered", "chequered"], ["light", "light"], ["dark", "dark"]];
const SPEEDS = [[1, "the game's speed"], [2, "half"], [4, "a quarter"], [8, "an eighth"]];
const ZOOMS = Array.from({ length: 8 }, (_, rank) => [rank + 1, `${rank + 1} ×`]);

// Returns the step that is shown after so many ticks, or the last with ``over``: what plays once has ended.
function stepAfter(steps, loop, ticks) {
  const whole = steps.reduce((sum, [, count]) => sum + count, 0);
  if (!loop && ticks >= whole) return { step: steps.length - 1, over: true };
  let left = ticks % whole, step = 0;
  while (left >= steps[step][1]) {
    left -= steps[step][1];
    step += 1;
  }
  return { step, over: false };
}

function showSprite(box) {
  const name = box.dataset.name, look = page.looks[name], [width, height] = look.frame;
  const every = { name: "", loop: true, steps: Array.from({ length: look.count }, (_, frame) => [frame, 0]) };
  const animations = [...look.animations, every], tickMs = 1000 * look.tick[0] / look.tick[1];
  const notes = Object.values(page.looks).find((one) => one.shown === "notes" && one.of === name);
  const first = between(1, Math.floor(Math.min(384 / height, (box.clientWidth - 20) / width, 4)), 4);
  const kept = choices(`sprite ${name}`, { animation: 0, step: 0, zoom: first, ground: "chequered", variant: "", speed: 1, onion: false, cells: false, anchor: false, notes: false });
  const canvas = make("canvas", { tabIndex: 0, role: "img", "aria-label": name });
  const board = make("div", { className: "board" }, canvas), said = make("p", { className: "said", role: "status" });
  const place = make("input", { type: "range", min: 0, oninput: () => { pause(); to(Number(place.value)); } });
  const toggle = button("Play", () => (playing.has(canvas) ? pause() : run()), { className: "first" });
  const now = () => animations[kept.animation] ?? every;
  let picture = null;

  async function draw() {
    picture = await pictureOf(name, kept.variant);
    const scale = shape(look, kept.zoom), pen = sized(canvas, width, height, scale), steps = now().steps, [frame] = steps[kept.step];
    if (kept.onion) {
      pen.globalAlpha = 0.3;
      for (const beside of [kept.step - 1, kept.step + 1]) {
        const rank = now().loop ? (beside + steps.length) % steps.length : beside;
        if (steps[rank]) drawFrame(pen, picture, look, steps[rank][0], 0, 0, scale);
      }
      pen.globalAlpha = 1;
    }
    drawFrame(pen, picture, look, frame, 0, 0, scale);
    if (kept.cells) lines(pen, look.cell, scale);
    if (kept.anchor && look.anchor) cross(pen, look.anchor, scale);
    if (kept.notes && notes) drawNotes(pen, notes, frame, scale);
    canvas.dataset.frame = frame;
    canvas.dataset.step = kept.step;
    canvas.setAttribute("aria-label", `${name}, frame ${frame}`);
    board.className = `board ${kept.ground}`;
    describe(frame);
  }

  function describe(frame) {
    const { name: called, steps } = now(), ticks = steps[kept.step][1];
    const shown = ticks ? `, shown for ${counted(ticks, "tick")} (${(ticks * tickMs).toFixed(0)} ms)` : "";
    const more = kept.notes && notes ? notes.frames[frame].said : "";
    said.textContent = `${called || "All frames"}: step ${kept.step + 1} of ${steps.length}, frame ${frame}${shown}${more ? `; ${more}` : ""}`;
    place.max = steps.length - 1;
    place.value = kept.step;
    toggle.disabled = now() === every;
  }

  function lines(pen, [across, down], scale) {
    pen.fillStyle = "#1d5a73b0";
    for (let x = across; x < width; x += across) pen.fillRect(Math.round(x * scale[0]), 0, 1, canvas.height);
    for (let y = down; y < height; y += down) pen.fillRect(0, Math.round(y * scale[1]), canvas.width, 1);
  }

  function cross(pen, [x, y], scale) {
    const [left, top] = [Math.round(x * scale[0]), Math.round(y * scale[1])];
    pen.fillStyle = "#d1006ca0";
    pen.fillRect(left, 0, 1, canvas.height);
    pen.fillRect(0, top, canvas.width, 1);
  }

  function to(step) {
    kept.step = between(0, step, now().steps.length - 1);
    return draw();
  }

  function next(by) {
    pause();
    const { length } = now().steps;
    to((kept.step + by + length) % length);
  }

  function run() {
    const { steps, loop } = now();
    if (now() === every) return;
    if (!loop && kept.step === steps.length - 1) to(0);
    const before = steps.slice(0, kept.step).reduce((sum, [, count]) => sum + count, 0);
    toggle.textContent = "Pause";
    said.setAttribute("aria-live", "off"); // a screen reader would read every step
    play(canvas, (ms) => {
      const { step, over } = stepAfter(steps, loop, before + Math.floor(ms / (tickMs * kept.speed)));
      if (step !== kept.step) to(step);
      if (over) pause();
    });
  }

  function pause() {
    stop(canvas);
    toggle.textContent = "Play";
    said.removeAttribute("aria-live");
  }

  function keep(key) {
    return (value) => {
      kept[key] = typeof value === "boolean" || key === "ground" || key === "variant" ? value : Number(value);
      const ran = playing.has(canvas);
      if (key === "animation") kept.step = 0;
      if (ran) pause();
      draw();
      if (ran) run();
    };
  }

  canvas.addEventListener("keydown", (event) => {
    const keys = { " ": () => toggle.click(), ArrowRight: () => next(1), ArrowLeft: () => next(-1), "+": () => keep("zoom")(between(1, kept.zoom + 1, 8)), "-": () => keep("zoom")(between(1, kept.zoom - 1, 8)) };
    if (keys[event.key] && !event.ctrlKey && !event.metaKey) {
      event.preventDefault();
      keys[event.key]();
    }
  });
  const called = animations.map((one, rank) => [rank, one.name || "all frames, by hand"]);
  box.replaceChildren(make("div", { className: "viewer" }, make("div", { className: "stage" }, board), make("div", { role: "group", "aria-label": `How ${name} is shown` },
    make("div", { className: "tools" }, list("Animation", called, kept.animation, keep("animation")), toggle,
      button("◀", () => next(-1), { "aria-label": "Step back" }), button("▶", () => next(1), { "aria-label": "Step forward" })),
    make("div", { className: "tools" }, labelled("Step", place)), said,
    make("div", { className: "tools" }, list("Size", ZOOMS, kept.zoom, keep("zoom")), list("Speed", SPEEDS, kept.speed, keep("speed")), list("Ground", GROUNDS, kept.ground, keep("ground")),
      ...paletteList(look, kept.variant, keep("variant"))),
    make("div", { className: "tools" }, tick("Onion skin", kept.onion, keep("onion")), tick("Cells", kept.cells, keep("cells")),
      ...(look.anchor ? [tick("Anchor", kept.anchor, keep("anchor"))] : []), ...(notes ? [tick("Boxes and points", kept.notes, keep("notes"))] : [])))));
  document.getElementById(`still-${name}`).onclick = (event) => pick(event, name, look, (frame) => {
    pause();
    kept.animation = animations.length - 1;
    box.querySelector("select").value = kept.animation;
    to(frame);
    canvas.scrollIntoView({ block: "nearest" });
  });
  pause();
  return draw;
}

// Finds the frame of a sheet that was pointed at.
function pick(event, name, look, found) {
  const still = event.currentTarget, rows = Math.ceil(look.count / look.columns);
  const column = Math.floor(event.offsetX / still.clientWidth * look.columns), row = Math.floor(event.offsetY / still.clientHeight * rows);
  const frame = row * look.columns + column;
  if (frame < look.count) found(frame);
}

// Draws boxes and points as the proofs have them: a colour and a pattern of dashes for each kind.
function drawNotes(pen, notes, frame, [across, down]) {
  for (const [kind, left, top, width, height] of notes.frames[frame].boxes) {
    const { colour, dashes, double } = notes.boxes[kind];
    const place = [left * across + 1, top * down + 1, width * across - 2, height * down - 2];
    pen.lineWidth = 2;
    pen.setLineDash([]);
    pen.strokeStyle = "#fff";
    pen.strokeRect(...place);
    pen.setLineDash(dashes.at(-1) ? dashes : []);
    pen.strokeStyle = colour;
    pen.strokeRect(...place);
    if (double) pen.strokeRect(place[0] + 4, place[1] + 4, Math.max(1, place[2] - 8), Math.max(1, place[3] - 8));
  }
  pen.setLineDash([]);
  for (const [kind, x, y] of notes.frames[frame].points) {
    const [left, top] = [(x + 0.5) * across, (y + 0.5) * down];
    for (const [wide, colour] of [[5, "#fff"], [2.5, notes.points[kind].colour]]) {
      pen.lineWidth = wide;
      pen.strokeStyle = colour;
      pen.beginPath();
      pen.moveTo(left - 6, top);
      pen.lineTo(left + 6, top);
      pen.moveTo(left, top - 6);
      pen.lineTo(left, top + 6);
      pen.stroke();
    }
  }
}

// A legend beside the notes themselves, which are drawn on their sprite.
function showNotes(box) {
  const notes = page.looks[box.dataset.name];
  const sample = (mark, draw) => {
    const canvas = make("canvas", { width: 34, height: 20, role: "img", "aria-label": mark.word });
    draw(canvas.getContext("2d"), mark);
    return make("li", {}, canvas, mark.word);
  };
  const one = (what, mark) => sample(mark, (pen) => drawNotes(pen, { [what]: [mark], boxes: [mark], points: [mark], frames: [{
    boxes: what === "boxes" ? [[0, 0, 0, 34, 20]] : [], points: what === "points" ? [[0, 17, 10]] : [] }] }, 0, [1, 1]));
  box.replaceChildren(make("p", {}, "Drawn on the frames of ", make("a", { href: `#asset-${notes.of}` }, notes.of), ": tick “Boxes and points” there."),
    make("ul", { className: "key" }, ...notes.boxes.map((mark) => one("boxes", mark)), ...notes.points.map((mark) => one("points", mark))));
}
