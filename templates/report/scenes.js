// Scenes as bars: another choice of members, and what that needs. The sum is made as the budget's worst cases are (joints/budget.py).
function needed(made, members) {
  const loads = new Set(made.always), parts = [["always", 0]];
  made.always.forEach((asset) => { parts[0][1] += made.sizes[asset] ?? 0; });
  const roles = {};
  let buffers = 0;
  const count = (pairs) => pairs.forEach(([role, amount]) => {
    if (role in made.most) (roles[role] ??= []).push(amount);
    else buffers += amount;
  });
  count(made.each_always);
  members.flat().forEach((name) => {
    const choice = made.choices.find((one) => name in one.members);
    let fresh = 0;
    choice.members[name].filter((asset) => !loads.has(asset)).forEach((asset) => {
      loads.add(asset);
      fresh += made.sizes[asset] ?? 0;
    });
    if (fresh) parts.push([name, fresh]);
    count(made.each[name] ?? []);
  });
  for (const [role, amounts] of Object.entries(roles)) {
    amounts.sort((one, other) => other - one).slice(0, made.most[role]).forEach((amount) => { buffers += amount; });
  }
  if (buffers) parts.push(["buffers and windows", buffers]);
  return parts;
}

// Returns what the game never has: members that are never together, and one twice where a choice does not repeat.
function impossible(made, members) {
  const there = new Set(members.flat());
  const never = made.never.filter((names) => names.every((name) => there.has(name))).map((names) => names.join(" with "));
  const twice = members.filter((some, rank) => !made.choices[rank].repeat && new Set(some).size < some.length);
  return [...never, ...twice.map((some) => `${some.find((name, at) => some.indexOf(name) < at)} twice`)];
}

// A list of the worst case names a member once; the rest of its places are filled with the same.
function filled(choice, names) {
  const all = names.length ? names : Object.keys(choice.members).slice(0, 1);
  return Array.from({ length: choice.count }, (_, at) => all[Math.min(at, all.length - 1)]);
}

function showScene(box) {
  const name = box.dataset.name, scene = page.scenes[name];
  if (!scene) return;
  const made = scene.choices, worst = () => made.choices.map((choice, rank) => filled(choice, scene.chosen[rank] ?? []));
  const kept = choices(`scene ${name}`, { members: worst() });
  const bar = make("div", { className: "bar", role: "img" }), key = make("ul", { className: "key" });
  const limit = make("div", { className: "limit" }, bar), said = make("p", { className: "said", role: "status" });
  const tools = make("div", { className: "tools" });

  function ask() {
    tools.replaceChildren(...made.choices.flatMap((choice, rank) => kept.members[rank].map((member, at) => list(
      choice.count > 1 ? `${at + 1} of ${choice.count}` : "With", Object.keys(choice.members).map((one) => [one, one]), member, (to) => {
        kept.members[rank][at] = to;
        draw();
      }))));
    if (made.choices.length) tools.append(button("Worst case", () => {
      kept.members = worst();
      ask();
      draw();
    }));
  }

  function draw() {
    const held = Object.entries(page.held), parts = needed(made, kept.members);
    const all = [...held.map(([word, bytes]) => [word, bytes, "held"]), ...parts.map(([word, bytes], rank) => [word, bytes, `c${rank % 13}`])];
    const total = all.reduce((sum, [, bytes]) => sum + bytes, 0), whole = Math.max(total, page.memory), left = page.memory - total;
    bar.replaceChildren(...all.map(([word, bytes, colour]) => {
      const span = make("span", { className: colour, title: `${word}: ${size(bytes)}` });
      span.style.width = `${100 * bytes / whole}%`;
      return span;
    }), make("span", { className: "free" }));
    bar.setAttribute("aria-label", `What ${name} needs with these members`);
    limit.querySelector("b")?.remove();
    if (left < 0) {
      const end = make("b");
      end.style.left = `${100 * page.memory / whole}%`;
      limit.append(end);
    }
    key.replaceChildren(...all.map(([word, bytes, colour]) => make("li", {}, make("i", { className: colour }), `${word} ${size(bytes)}`)));
    const wrong = impossible(made, kept.members), more = total - scene.bytes;
    said.replaceChildren(make("b", { className: left < 0 ? "over" : "" }, `${grouped(total)} bytes, ${grouped(Math.abs(left))} ${left < 0 ? "over" : "free"}`),
      more ? `, ${grouped(Math.abs(more))} ${more > 0 ? "more" : "less"} than the worst case` : ", the worst case",
      wrong.length ? `. The game never has ${wrong.join(", or ")}` : "", ".");
    box.dataset.bytes = total;
  }

  box.replaceChildren(tools, limit, said, key);
  ask();
  draw();
}
