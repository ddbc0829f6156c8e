// What passes between a held slider and the charts: moves to the server, and from there figures for charts that are
// on the page already. Each answer holds the figures for the value asked and for some values near it, and they are
// kept until the slider is let go, so that the charts follow the thumb without waiting for the server each time.

const NEAR = 0.01; // of the slider's range: how far from the thumb a figure may be until its own has come
const AHEAD = 9; // values asked for beside the thumb's own
const REACH = 20; // as often as that distance

const drag = (window.headroomDrag ??= { charts: new Map(), groups: new Map() });
let frames = new Map();
let thumb = null;
let towards = 1; // the way the thumb last went
let planned = 0;

function nearest(value, known) {
  let best = null;
  for (const other of known) if (best === null || Math.abs(other - value) < Math.abs(best - value)) best = other;
  return best;
}

function draw() {
  planned = 0;
  for (const [key, text] of frames.get(nearest(thumb, frames.keys()))) drag.charts.get(key)?.show(text);
  drag.look(); // what stands above may have grown by a line since the slider was taken
}

function plan() {
  planned ||= requestAnimationFrame(draw);
}

const small = matchMedia("(max-width: 768px), (max-height: 500px)");

Object.assign(drag, {
  // On a phone no chart may be in view whole, between the top and the tray: then the run is brought there.
  look() {
    if (!small.matches) return;
    const tray = document.querySelector(".st-key-tray")?.getBoundingClientRect();
    const foot = tray?.height ? tray.top : innerHeight;
    const seen = ({ top, bottom }) => top >= 0 && bottom <= foot;
    const all = [...document.querySelectorAll(".headroom-chart")];
    if (all.some((chart) => seen(chart.getBoundingClientRect()))) return;
    document.querySelector(".st-key-first_run .headroom-chart")?.scrollIntoView({ block: "nearest", behavior: "instant" });
  },
  start() {
    cancelAnimationFrame(planned);
    planned = 0;
    frames = new Map();
    thumb = null;
  },
  // The thumb stands at a value; says whether there are figures near enough.
  follow(value, { minimum, maximum }) {
    towards = Math.sign(value - (thumb ?? value)) || towards;
    thumb = value;
    if (!frames.size) return false;
    plan();
    return Math.abs(nearest(value, frames.keys()) - value) <= NEAR * (maximum - minimum);
  },
  // The values near the thumb that lack a figure. First where it is going: so far apart that one of them is always near
  // enough, then those in between; after that where it came from. None at first, for a quick start.
  missing(value, { minimum, maximum, step }, onGrid) {
    if (!frames.size) return [];
    const near = NEAR * (maximum - minimum);
    const stride = Math.max(step, onGrid(minimum + near) - minimum);
    const wide = stride > near ? 1 : 2;
    const known = [value, ...frames.keys()];
    const before = known.length;
    for (const [way, apart] of [[towards, wide], [towards, 1], [-towards, wide], [-towards, 1]]) {
      for (let far = apart; far <= REACH && known.length < before + AHEAD; far += apart) {
        const other = onGrid(value + way * far * stride);
        if (Math.abs(nearest(other, known) - other) > 0.45 * apart * stride) known.push(other);
      }
    }
    return known.slice(before);
  },
});

export default function (component) {
  const { data, setTriggerValue } = component;
  drag.send = (event) => setTriggerValue("moved", event);
  const lines = new TextDecoder().decode(data).split("\n");
  const { acknowledged, values, charts } = JSON.parse(lines[0]);
  const figures = [];
  for (let line = 1; line < lines.length; line += 2) {
    figures.push([JSON.parse(lines[line]).key, `${lines[line]}\n${lines[line + 1]}`]);
  }
  (values ?? []).forEach((value, index) => frames.set(value, new Map(figures.slice(index * charts, (index + 1) * charts))));
  if (frames.size && thumb !== null) plan();
  if (!values) { // a run of the whole page, which brings the same figures later
    drag.start();
    const known = new Map(figures);
    for (const [key, chart] of drag.charts) chart.settle(known.get(key));
  }
  for (const [key, serial] of Object.entries(acknowledged)) drag.groups.get(key)?.(serial);
  return () => { delete drag.send; };
}
