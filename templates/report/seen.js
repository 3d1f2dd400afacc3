// What changed since the build that was last looked at here. The browser keeps names and checksums of one build and the one before.
function showSeen(box) {
  const key = `report ${page.game}`, now = { build: page.build, assets: {} };
  for (const { name, kind, crc32, bytes } of page.blocks) if (kind) now.assets[name] = [crc32, bytes];
  let kept = {};
  try {
    kept = JSON.parse(localStorage.getItem(key)) ?? {};
    if (kept.last?.build !== now.build) {
      kept = { last: now, before: kept.last };
      localStorage.setItem(key, JSON.stringify(kept));
    }
  } catch {
    // A browser that keeps nothing: nothing is known of an earlier build.
  }
  const before = kept.before?.assets;
  if (!before) return box.replaceChildren(make("p", { className: "note" }, "This is the first build of this game that you look at in this browser."));
  const rows = Object.keys({ ...before, ...now.assets }).flatMap((name) => {
    const [one, other] = [before[name], now.assets[name]];
    if (one && other && one[0] === other[0]) return [];
    const more = one && other ? other[1] - one[1] : 0;
    const said = !one ? "new" : !other ? "gone" : more ? `${more > 0 ? "+" : "−"}${grouped(Math.abs(more))} bytes` : "other bytes, the same size";
    return [make("li", {}, other ? make("a", { href: `#asset-${name}` }, name) : name, `: ${said}`)];
  });
  box.replaceChildren(make("h3", {}, `Since build ${kept.before.build}, which you looked at before`),
    rows.length ? make("ul", {}, ...rows) : make("p", {}, "No asset differs."));
}
