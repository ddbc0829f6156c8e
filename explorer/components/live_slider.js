// A group of sliders, each with a box for exact entry. A value is sent while the slider moves, but
// never faster than the page can follow: the next one leaves when the last has been worked through.

const groups = new WeakMap();
const drag = (window.headroomDrag ??= { charts: new Map(), groups: new Map() });
const waiting = new Set();
let watched = null;
const PAUSE = 80;
const PATIENCE = 1500;
const REST = 200;
const DRAG_PAUSE = 30;
const KNOWN_PAUSE = 400;
const SIDEWAYS = 8; // pixels a touch goes sideways before it moves a slider
const AFTER_TOUCH = 300;

const number = (text) => {
  const plain = text.trim().replace(/\s/g, "").replace("\u2212", "-").replace(/^([^.,]*),([^.,]*)$/, "$1.$2");
  return /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i.test(plain) ? Number(plain) : NaN;
};

function text(slider, value) {
  const { digits } = slider.spec;
  const [whole, fraction = ""] = value.toFixed(Math.min(digits + 3, 12)).split(".");
  const kept = fraction.slice(0, digits) + fraction.slice(digits).replace(/0+$/, "");
  return (kept ? `${whole}.${kept}` : whole).replace(/^-(0(?:\.0*)?)$/, "$1");
}

const withUnit = (slider, value) => `${text(slider, value)} ${slider.spec.unit}`.trim();

function onGrid(slider, value) {
  const { minimum, maximum, step } = slider.spec;
  const steps = Math.round((value - minimum) / step);
  const snapped = Number((minimum + steps * step).toFixed(10));
  return Math.min(maximum, Math.max(minimum, snapped));
}

function show(slider, value, leaveBox) {
  const { minimum, maximum } = slider.spec;
  slider.value = value;
  slider.range.value = value;
  slider.range.style.setProperty("--filled", `${(100 * (value - minimum)) / (maximum - minimum || 1)}%`);
  slider.range.setAttribute("aria-valuetext", withUnit(slider, value));
  if (!leaveBox) {
    slider.box.value = text(slider, value);
    complain(slider, "");
  }
}

function complain(slider, sentence) {
  slider.error.textContent = sentence;
  slider.error.hidden = !sentence;
  slider.box.setAttribute("aria-invalid", String(Boolean(sentence)));
}

function move(group, slider, value, resting) {
  show(slider, value);
  // A clock that was set back must not number a move below those the server has worked through.
  group.serial = Math.max(Math.max(group.serial, group.applied) + 1, Date.now());
  group.moves[slider.spec.key] = [value, group.serial, group.held ? 1 : 0];
  group.unsettled = group.held ? slider : null;
  group.known = isDrag(group) && drag.follow(value, slider.spec);
  clearTimeout(group.resting);
  if (group.held && !resting) group.resting = setTimeout(() => move(group, slider, slider.value, true), REST);
  send(group);
}

// While the thumb is held the page answers only in part; letting go sends the value once more, for all of it.
function hold(group) {
  group.held?.abort();
  group.held = new AbortController();
  drag.start?.();
  drag.look?.();
  const { signal } = group.held;
  for (const name of ["pointerup", "pointercancel", "blur"]) addEventListener(name, () => release(group), { signal });
}

function release(group) {
  group.held?.abort();
  group.held = null;
  clearTimeout(group.resting);
  if (group.unsettled) move(group, group.unsettled, group.unsettled.value);
}

// A browser moves a slider to the finger at once, and leaves it there when the touch turns out to scroll the page. So a
// touch counts only once it has gone sideways, and one that is cancelled has changed nothing.
function touch(group, slider, { clientX, clientY }) {
  const mine = (slider.touch = { waits: true, before: slider.value });
  const over = new AbortController();
  const { signal } = over;
  const end = () => {
    over.abort();
    mine.waits = true; // what the browser still reports of this touch
    slider.range.value = slider.value;
    setTimeout(() => { if (slider.touch === mine) slider.touch = null; }, AFTER_TOUCH);
  };
  addEventListener("pointermove", (event) => {
    const [across, along] = [Math.abs(event.clientX - clientX), Math.abs(event.clientY - clientY)];
    if (!mine.waits || across < SIDEWAYS || across < along) return;
    mine.waits = false;
    hold(group);
    slider.range.oninput();
  }, { signal });
  addEventListener("pointerup", end, { signal });
  addEventListener("pointercancel", () => {
    end();
    if (slider.value !== mine.before) move(group, slider, mine.before);
  }, { signal });
}

function pageIsBusy() {
  const app = document.querySelector("[data-testid=stApp]");
  return Boolean(app) && app.dataset.testScriptState === "running";
}

// The page's end of work is seen at once, before its charts are drawn, so that it computes while they are.
function watchPage() {
  const app = document.querySelector("[data-testid=stApp]");
  if (!app || app === watched) return;
  watched = app;
  const free = () => { if (!pageIsBusy()) for (const group of [...waiting]) send(group); };
  new MutationObserver(free).observe(app, { attributes: true, attributeFilter: ["data-test-script-state"] });
}

// What only the charts and words of a drag answer need not wait for the page.
function isDrag(group) {
  return group.drags && group.unsettled && drag.send && Object.values(group.moves).every(([, , held]) => held);
}

function sendDrag(group, moves) {
  const slider = group.unsettled;
  const near = drag.missing(slider.value, slider.spec, (value) => onGrid(slider, value));
  const { key } = slider.spec;
  drag.send({ group: group.key, moves, key, values: [slider.value, ...near], known: group.known });
}

function send(group) {
  clearTimeout(group.timer);
  waiting.delete(group);
  if (!Object.keys(group.moves).length || group.gone) return;
  watchPage();
  waiting.add(group);
  const waited = performance.now() - group.sentAt;
  const dragged = isDrag(group);
  const pending = group.sent > group.applied || (!dragged && pageIsBusy());
  // Words still follow where the charts know the way.
  const known = Math.max(KNOWN_PAUSE, Math.min(4 * group.took, 1000));
  const pause = !dragged ? PAUSE : group.known ? known : DRAG_PAUSE;
  if (waited < pause) group.timer = setTimeout(() => send(group), pause - waited);
  else if (pending && waited < PATIENCE) group.timer = setTimeout(() => send(group), 20);
  else if (group.serial > group.sent || waited >= PATIENCE) {
    group.sent = group.serial;
    group.sentAt = performance.now();
    const moves = { ...group.moves };
    if (dragged) sendDrag(group, moves);
    else group.trigger("moved", moves);
    group.timer = setTimeout(() => send(group), PATIENCE);
  }
}

function enter(group, slider) {
  const { minimum, maximum } = slider.spec;
  if (slider.box.value === slider.shownText) return;
  const value = number(slider.box.value);
  if (Number.isFinite(value) && value >= minimum && value <= maximum) {
    if (value === slider.value) show(slider, value);
    else move(group, slider, value);
    slider.shownText = slider.box.value;
    return;
  }
  slider.shownText = slider.box.value;
  const range = `from ${text(slider, minimum)} to ${withUnit(slider, maximum)}`;
  const what = Number.isFinite(value) ? "That is outside the range" : "That is not a number";
  complain(slider, `${what}. Enter a number ${range}; ${withUnit(slider, slider.value)} stays in use.`);
}

function onKey(group, slider, event) {
  const { minimum, maximum, step } = slider.spec;
  const leap = Math.max(step, onGrid(slider, minimum + (maximum - minimum) / 10) - minimum);
  const by = {
    ArrowRight: step, ArrowUp: step, ArrowLeft: -step, ArrowDown: -step, PageUp: leap, PageDown: -leap,
  }[event.key];
  const inBox = event.target === slider.box;
  if (inBox && event.key === "Enter") return enter(group, slider);
  if (inBox && event.key === "Escape") return show(slider, slider.value);
  if (inBox && !/^(Arrow(Up|Down)|Page)/.test(event.key)) return;
  let value = null;
  if (by) {
    // From a value between two steps the first press reaches the next step, not one beyond it.
    const near = onGrid(slider, slider.value + by);
    const past = Math.abs(near - slider.value) > Math.abs(by) + 1e-9;
    value = past ? onGrid(slider, near - Math.sign(by) * step) : near;
  } else if (!inBox && event.key === "Home") value = minimum;
  else if (!inBox && event.key === "End") value = maximum;
  if (value === null || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  if (event.repeat && !group.held) hold(group);
  if (value !== slider.value) move(group, slider, value);
}

function make(tag, className, parent) {
  const part = document.createElement(tag);
  part.className = className;
  parent.appendChild(part);
  return part;
}

function buildSlider(group, spec) {
  const row = make("div", "slider", group.frame);
  const top = make("div", "top", row);
  const slider = { row, spec };
  slider.label = make("label", "label", top);
  slider.ask = make("button", "ask", top);
  slider.box = make("input", "box", top);
  slider.unit = make("span", "unit", top);
  slider.range = make("input", "range", row);
  slider.error = make("div", "error", row);
  slider.help = make("div", "help", row);
  const id = `s${group.count++}`;
  slider.range.id = slider.label.htmlFor = id;
  slider.error.id = `${id}-error`;
  slider.help.id = `${id}-help`;
  Object.assign(slider.range, { type: "range", step: "any" });
  Object.assign(slider.box, { type: "text", inputMode: "decimal", autocomplete: "off", spellcheck: false });
  slider.box.setAttribute("aria-describedby", slider.error.id);
  slider.error.setAttribute("role", "status");
  Object.assign(slider.ask, { type: "button", textContent: "?" });
  slider.ask.setAttribute("aria-controls", slider.help.id);
  slider.help.hidden = slider.error.hidden = true;
  slider.range.oninput = () => {
    const value = onGrid(slider, Number(slider.range.value));
    if (value !== slider.value && !slider.touch?.waits) move(group, slider, value);
    else slider.range.value = slider.value;
  };
  slider.range.onpointerdown = (event) => (event.pointerType === "touch" ? touch(group, slider, event) : hold(group));
  row.onkeyup = () => release(group);
  row.addEventListener("focusout", () => release(group));
  slider.box.onfocus = () => { slider.shownText = slider.box.value; slider.box.select(); };
  slider.box.onblur = () => enter(group, slider);
  row.onkeydown = (event) => {
    if (event.target === slider.range || event.target === slider.box) onKey(group, slider, event);
  };
  slider.ask.onclick = () => {
    slider.help.hidden = !slider.help.hidden;
    slider.ask.setAttribute("aria-expanded", String(!slider.help.hidden));
  };
  return slider;
}

// One slider in view, and a button for each that shows it.
function buildChoice(group) {
  group.choice = make("div", "choice", group.frame);
  group.choice.setAttribute("role", "group");
  group.choice.setAttribute("aria-label", "Which slider");
  group.frame.classList.add("one");
}

function choose(group, key) {
  group.chosen = key;
  for (const [name, slider] of group.sliders) {
    slider.row.hidden = name !== key;
    slider.chip.setAttribute("aria-pressed", String(name === key));
  }
}

function offer(group) {
  if (!group.choice) buildChoice(group);
  for (const slider of group.sliders.values()) {
    slider.chip ??= make("button", "chip", group.choice);
    slider.chip.type = "button";
    slider.chip.textContent = slider.spec.label;
    slider.chip.onclick = () => choose(group, slider.spec.key);
    group.choice.appendChild(slider.chip);
  }
  choose(group, group.sliders.has(group.chosen) ? group.chosen : group.sliders.keys().next().value);
}

function describe(slider, spec) {
  slider.spec = spec;
  slider.row.dataset.key = spec.key;
  slider.label.textContent = spec.label;
  if (spec.note) make("span", "note", slider.label).textContent = spec.note;
  slider.unit.textContent = spec.unit;
  slider.help.textContent = spec.help;
  slider.ask.hidden = !spec.help;
  slider.ask.setAttribute("aria-label", `About ${spec.label}`);
  slider.ask.setAttribute("aria-expanded", String(!slider.help.hidden));
  slider.box.setAttribute("aria-label", `${spec.label}, exact value${spec.unit ? ` in ${spec.unit}` : ""}`);
  slider.range.min = spec.minimum;
  slider.range.max = spec.maximum;
  slider.range.disabled = slider.box.disabled = spec.disabled;
}

function acknowledge(group, applied) {
  if (group.applied < group.sent && applied >= group.sent) group.took = performance.now() - group.sentAt;
  group.applied = Math.max(group.applied, applied);
  for (const [key, [, serial]] of Object.entries(group.moves)) {
    if (serial <= group.applied) delete group.moves[key];
  }
}

function update(group, [key, drags, applied, specs, single]) {
  Object.assign(group, { key, drags });
  drag.groups.set(group.key, (latest) => { acknowledge(group, latest); send(group); });
  acknowledge(group, applied);
  const wanted = specs.map((spec) => spec.key).join("\n");
  if (wanted !== group.wanted) {
    group.wanted = wanted;
    const kept = group.sliders;
    group.sliders = new Map(specs.map((spec) => [spec.key, kept.get(spec.key) ?? buildSlider(group, spec)]));
    for (const [key, slider] of kept) {
      if (group.sliders.has(key)) continue;
      slider.row.remove();
      slider.chip?.remove();
    }
    for (const slider of group.sliders.values()) group.frame.appendChild(slider.row);
  }
  for (const spec of specs) {
    const slider = group.sliders.get(spec.key);
    const before = JSON.stringify({ ...slider.spec, value: 0 });
    const changed = !slider.known || before !== JSON.stringify({ ...spec, value: 0 });
    if (changed) describe(slider, spec);
    slider.known = true;
    if (spec.key in group.moves) continue;
    const typing = slider.box.matches(":focus") && slider.box.value !== slider.shownText;
    if (changed || spec.value !== slider.value) show(slider, spec.value, typing && !changed);
  }
  if (single) offer(group);
  if (Object.keys(group.moves).length) send(group);
}

export default function (component) {
  const { parentElement, data, setTriggerValue } = component;
  let group = groups.get(parentElement);
  if (!group) {
    group = { moves: {}, sliders: new Map(), serial: 0, sent: 0, sentAt: -PAUSE, took: 0, applied: 0, count: 0 };
    group.frame = make("div", "sliders", parentElement);
    groups.set(parentElement, group);
  }
  group.trigger = setTriggerValue;
  update(group, data);
  return () => {
    group.gone = true;
    clearTimeout(group.timer);
    clearTimeout(group.resting);
    group.held?.abort();
    group.frame.remove();
    groups.delete(parentElement);
  };
}
