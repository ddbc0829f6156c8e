// What passes between a held slider and the charts: moves to the server, and from there figures for charts that are
// on the page already. Each answer holds the figures for the value asked and for some values near it, and they are
// kept until the slider is let go, so that the charts follow the thumb without waiting for the server each time.

const NEAR = 0.01; // of the slider's range: how far from the thumb a figure may be until its own has come
const AHEAD = 6;

const following = (window.headroomFollowing ??= { charts: new Map(), groups: new Map() });
let frames = new Map();
let newest = null;
let thumb = null;
let planned = 0;

function nearest(value) {
  let best = null;
  for (const other of frames.keys()) if (best === null || Math.abs(other - value) < Math.abs(best - value)) best = other;
  return best;
}

function frameNear(value, near) {
  const found = nearest(value);
  return found !== null && Math.abs(found - value) <= near ? frames.get(found) : null;
}

function draw() {
  planned = 0;
  const frame = frameNear(thumb.value, thumb.near) ?? newest;
  for (const [key, text] of frame ?? []) following.charts.get(key)?.show(text);
}

function plan() {
  planned ||= requestAnimationFrame(draw);
}

Object.assign(following, {
  start() {
    cancelAnimationFrame(planned);
    planned = 0;
    frames = new Map();
    newest = thumb = null;
  },
  // The thumb stands at a value; says whether there are figures near enough.
  follow(value, { minimum, maximum }) {
    thumb = { value, near: NEAR * (maximum - minimum) };
    if (frames.size) plan();
    return frameNear(value, thumb.near) !== null;
  },
  // The values near the thumb, nearest first, for which no figure is near enough; none at first, for a quick start.
  missing(value, spec, onGrid) {
    if (!frames.size) return [];
    const near = NEAR * (spec.maximum - spec.minimum);
    const stride = Math.max(spec.step, onGrid(spec.minimum + near) - spec.minimum);
    const found = [];
    for (let far = 1; found.length < AHEAD && far * stride <= spec.maximum - spec.minimum; far += 1) {
      for (const other of [onGrid(value + far * stride), onGrid(value - far * stride)]) {
        const known = nearest(other);
        if (known === null || Math.abs(known - other) > stride / 2) if (!found.includes(other)) found.push(other);
      }
    }
    return found.slice(0, AHEAD);
  },
});

export default function (component) {
  const { data, setTriggerValue } = component;
  following.send = (event) => setTriggerValue("moved", event);
  const lines = new TextDecoder().decode(data).split("\n");
  const { acknowledged, values, charts } = JSON.parse(lines[0]);
  (values ?? []).forEach((value, place) => {
    const frame = new Map();
    for (let line = 1 + 2 * place * charts; line < 1 + 2 * (place + 1) * charts; line += 2) {
      frame.set(JSON.parse(lines[line]).key, `${lines[line]}\n${lines[line + 1]}`);
    }
    frames.set(value, frame);
    if (!place) newest = frame;
  });
  if (values && thumb) plan();
  if (!values) {
    following.start();
    for (const chart of following.charts.values()) chart.settle();
  }
  for (const [key, serial] of Object.entries(acknowledged)) following.groups.get(key)?.(serial);
  return () => { delete following.send; };
}
