// Keeps a served report up to date. The server puts this into the page; the file on the disk does without it.
(() => {
  "use strict";
  const panel = document.getElementById("watch");
  const [line, text] = panel.children;
  let source = null, wanted = panel.dataset.report, fetching = false;

  function say(build, state, said) {
    panel.dataset.build = build;
    line.textContent = state;
    if (said !== undefined) {
      text.textContent = said;
      text.hidden = !said;
      panel.dataset.said = said ? "yes" : "";
    }
    document.body.style.paddingBottom = panel.offsetHeight + "px"; // so that the panel hides no end of the page
  }

  // Makes one element like another without touching what is alike, so that the page stays where it is.
  function update(old, now) {
    if (old.isEqualNode(now)) return;
    if (old.nodeName !== now.nodeName || old.nodeType !== Node.ELEMENT_NODE) {
      old.replaceWith(now);
      return;
    }
    for (const { name } of [...old.attributes]) {
      if (!now.hasAttribute(name) && name !== "open") old.removeAttribute(name); // what was opened stays open
    }
    for (const { name, value } of now.attributes) {
      if (old.getAttribute(name) !== value) old.setAttribute(name, value);
    }
    const before = [...old.childNodes], after = [...now.childNodes];
    after.forEach((node, rank) => (rank < before.length ? update(before[rank], node) : old.append(node)));
    before.slice(after.length).forEach((node) => node.remove());
  }

  // Waits until changed pictures can be shown at their size, so that nothing moves when they are.
  async function decoded(page) {
    const shown = new Set([...document.images].map((one) => one.src));
    const fresh = [...page.images].map((one) => one.src).filter((src) => !shown.has(src));
    await Promise.all(fresh.map((src) => {
      const picture = new Image();
      picture.src = src;
      return picture.decode().catch(() => {});
    }));
  }

  async function refresh() {
    if (fetching) return;
    fetching = true;
    try {
      while (panel.dataset.report !== wanted) {
        const aim = wanted;
        const answer = await fetch("/", { cache: "no-store" });
        const page = new DOMParser().parseFromString(await answer.text(), "text/html");
        const report = page.getElementById("watch").dataset.report;
        if (page.getElementById("live") && !document.getElementById("live")) {
          location.reload(); // the first report has a script that the page without one has not
          return;
        }
        page.querySelectorAll("#watch, script:not([type])").forEach((one) => one.remove());
        await decoded(page);
        const [at, across] = [window.scrollY, window.scrollX];
        const styles = [...document.head.querySelectorAll("style")], others = [...page.head.querySelectorAll("style")];
        styles.forEach((one, rank) => others[rank] && update(one, others[rank]));
        document.title = page.title;
        document.dispatchEvent(new Event("refreshing"));
        const ours = [panel, ...document.body.querySelectorAll("script:not([type])")];
        ours.forEach((one) => one.remove());
        update(document.body, page.body);
        document.body.append(...ours);
        document.dispatchEvent(new Event("refreshed")); // the report's own script fills its places again
        say(panel.dataset.build, line.textContent);
        window.scrollTo(across, at);
        panel.dataset.report = report;
        if (report !== aim && wanted === aim) wanted = report; // a build was faster than the page
      }
    } catch {
      // The server has ended, which is said, or the next event tries again.
    } finally {
      fetching = false;
    }
  }

  function listen() {
    source = new EventSource("/events");
    source.onmessage = (event) => {
      const { build, state, said, report } = JSON.parse(event.data);
      say(build, state, said);
      wanted = report;
      if (report) refresh();
    };
    source.onerror = () => say("ended", "watch has ended, or cannot be reached. The page shows the last report.");
  }

  // A browser keeps few connections to one address, so a page that nobody sees gives its own back.
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) {
      source?.close();
      source = null;
    } else if (!source) listen();
  });
  say(panel.dataset.build, line.textContent);
  if (!document.hidden) listen();
})();
