// Time for whatever plays: nothing does until it is asked to, and all of it stops when the page is hidden.
const playing = new Map(); // what plays -> what moves it, given the milliseconds since it began

function play(who, advance) {
  const began = performance.now();
  if (!playing.size) requestAnimationFrame(beat);
  playing.set(who, (now) => advance(Math.max(0, now - began)));
}

const stop = (who) => playing.delete(who);

function beat(now) {
  if (document.hidden) playing.clear();
  for (const advance of [...playing.values()]) advance(now);
  if (playing.size) requestAnimationFrame(beat);
}
