// One chart: draws a Plotly figure and redraws it in place. This file and Plotly itself are loaded once for the whole
// page; live_chart.py says with which colours, and where Plotly is.

import { GRID, saveCsv } from "./live_chart_csv.js";
import { leave, share } from "./live_cursor.js";

let PALETTE = {};
let PLOTLY_PATH = "";
const charts = new WeakMap();
const drag = (window.headroomDrag ??= { charts: new Map(), groups: new Map() });
const TOKEN = /^@([a-z]+)(?:\/(0|1|0?\.\d+))?$/;

function loadPlotly() {
  if (!window.headroomPlotly) {
    window.headroomPlotly = new Promise((resolve, reject) => {
      const script = document.createElement("script");
      script.src = new URL(PLOTLY_PATH, document.baseURI).href;
      script.onload = () => resolve(window.Plotly);
      script.onerror = () => reject(new Error("plotly.js did not load"));
      document.head.appendChild(script);
    });
  }
  return window.headroomPlotly;
}

function isDark(parent) {
  const value = getComputedStyle(parent).getPropertyValue("--st-background-color").trim();
  const hex = /^#([0-9a-f]{6})$/i.exec(value);
  if (hex) {
    const number = parseInt(hex[1], 16);
    return 0.299 * (number >> 16) + 0.587 * ((number >> 8) & 255) + 0.114 * (number & 255) < 128;
  }
  const rgb = (value.match(/[\d.]+/g) || [255, 255, 255]).map(Number);
  return 0.299 * rgb[0] + 0.587 * rgb[1] + 0.114 * rgb[2] < 128;
}

function colour(token, table) {
  const found = TOKEN.exec(token);
  if (!found || !table[found[1]]) return token;
  const hex = table[found[1]];
  if (found[2] === undefined) return hex;
  const number = parseInt(hex.slice(1), 16);
  return `rgba(${number >> 16},${(number >> 8) & 255},${number & 255},${found[2]})`;
}

function resolve(part, table) {
  if (typeof part === "string") return part[0] === "@" ? colour(part, table) : part;
  if (Array.isArray(part)) {
    if (typeof part[0] === "number" && typeof part[1] !== "string") return part; // a colour scale's steps are mixed
    return part.map((value) => resolve(value, table));
  }
  if (part && typeof part === "object") {
    if ("bdata" in part) return part;
    for (const name of Object.keys(part)) part[name] = resolve(part[name], table);
  }
  return part;
}

function template(chart, dark, table) {
  const style = getComputedStyle(chart.parent);
  const list = (name) => style.getPropertyValue(name).split(",").map((text) => text.trim());
  const ramp = (name) => {
    const steps = list(name);
    if (steps.length < 2) return undefined;
    return steps.map((step, index) => [index / (steps.length - 1), step]);
  };
  const axis = {
    gridcolor: table.grid, linecolor: table.axis, tickcolor: table.axis, zerolinecolor: table.grid,
    zerolinewidth: 1, automargin: true, ticklabeloverflow: "allow", title: { standoff: 8, font: { size: 13 } },
  };
  const map = [{ colorscale: ramp("--st-chart-sequential-colors"), colorbar: { outlinewidth: 0, thickness: 14 } }];
  return {
    data: { contour: map, heatmap: map },
    layout: {
      paper_bgcolor: table.background, plot_bgcolor: table.background,
      font: { family: style.getPropertyValue("--st-font") || "sans-serif", size: 13, color: table.text },
      colorway: PALETTE.series.map((name) => table[name]),
      colorscale: {
        sequential: ramp("--st-chart-sequential-colors"),
        diverging: ramp("--st-chart-diverging-colors"),
      },
      margin: { l: 56, r: 16, t: 36, b: 44 },
      xaxis: axis, yaxis: axis,
      legend: { orientation: "h", x: 0, y: 1, yanchor: "bottom", bgcolor: "rgba(0,0,0,0)" },
      hoverlabel: { bgcolor: table.panel, bordercolor: table.axis, font: { color: table.text } },
      modebar: { bgcolor: table.background, color: table.muted, activecolor: table.accent },
      annotationdefaults: { arrowcolor: table.muted },
    },
  };
}

// On paper a chart is no wider than a question's frame on A4; it is drawn anew for that, so that its words keep their size.
const PAPER = 650;
let printing = false; // what was measured on the screen just before waits until it is shown there again
function onPaper(sizeOf) {
  for (const plot of document.querySelectorAll(".headroom-chart-plot")) {
    const { width, height } = plot.layout ?? {};
    if (!width || !plot.clientWidth) continue;
    const size = { width: sizeOf(plot, width), height };
    if (size.width !== width) window.Plotly.relayout(plot, size);
    plot.style.setProperty("--print-width", `${size.width}px`);
    plot.style.setProperty("--print-height", `${height}px`);
  }
}
const onScreen = new WeakMap();
addEventListener("beforeprint", () => {
  printing = true;
  onPaper((plot, width) => { onScreen.set(plot, width); return Math.min(width, PAPER); });
});
addEventListener("afterprint", () => {
  printing = false;
  onPaper((plot, width) => onScreen.get(plot) ?? width);
});

const WIDEN = {
  width: 24, height: 24,
  path: "M4 4h6v2H6v4H4zM14 4h6v6h-2V6h-4zM4 14h2v4h4v2H4zM18 14h2v6h-6v-2h4z",
};

function config(chart) {
  const Plotly = window.Plotly;
  const save = (format) => () => Plotly.downloadImage(chart.plot, {
    format, filename: chart.key, scale: format === "png" ? 2 : 1,
    width: chart.plot.clientWidth, height: chart.plot.clientHeight,
  });
  return {
    displaylogo: false, showSendToCloud: false, responsive: false, scrollZoom: false,
    doubleClick: "reset", showTips: false,
    modeBarButtons: [[
      "zoom2d", "pan2d", "resetScale2d",
      { name: "png", title: "Save as PNG image", icon: Plotly.Icons.camera, click: save("png") },
      { name: "svg", title: "Save as SVG drawing", icon: Plotly.Icons.disk, click: save("svg") },
      { name: "csv", title: "Save data as CSV", icon: GRID, click: () => saveCsv(chart) },
      { name: "full", title: "Full screen", icon: WIDEN, click: () => toggleFull(chart) },
    ]],
  };
}

function toggleFull(chart) {
  if (document.fullscreenElement) document.exitFullscreen();
  else chart.frame.requestFullscreen?.();
}

function build(parent) {
  const frame = document.createElement("div");
  frame.className = "headroom-chart";
  const picture = document.createElement("div");
  picture.className = "headroom-chart-alt";
  picture.setAttribute("role", "img");
  const plot = document.createElement("div");
  plot.className = "headroom-chart-plot";
  frame.append(picture, plot);
  parent.appendChild(frame);
  const chart = { parent, frame, picture, plot, text: null, dark: null, drawn: 0, waiting: false };
  chart.turn = Promise.resolve();
  chart.sized = new ResizeObserver(() => {
    if (!plot.clientWidth) return; // folded
    chart.size = { width: plot.clientWidth, height: plot.clientHeight };
    clearTimeout(chart.sizing);
    chart.sizing = setTimeout(() => inTurn(chart, () => resize(chart)), 60);
  });
  chart.sized.observe(frame);
  return chart;
}

// Nothing may come to a plot while an animation's frame is on its way.
function inTurn(chart, act) {
  chart.turn = chart.turn.then(act).catch(console.error);
}

function resize({ plot, size, drawn }) {
  const known = !printing && drawn && plot.isConnected && plot.layout;
  if (known && (known.width !== size.width || known.height !== size.height)) window.Plotly.relayout(plot, { ...size });
}

const ANIMATED = ["scatter", "bar"];
const AT_ONCE = { mode: "immediate", transition: { duration: 0 }, frame: { duration: 0, redraw: false } };

// All of a figure that a frame of Plotly's animations cannot change, as text. It can change the numbers of lines, points
// and bars, and the places and words of shapes and notes that stand on an axis.
function stillness({ data, layout }) {
  const trace = ({ x, y, base, customdata, hovertemplate, ...rest }) => rest;
  const part = ({ x, y, x0, x1, y0, y1, text, ...rest }) => rest;
  const onAxis = ({ xref, yref }) => xref !== "paper" || yref !== "paper";
  return JSON.stringify([
    data.map((each) => (ANIMATED.includes(each.type) ? trace(each) : each)),
    [layout.shapes, layout.annotations].map((all) => all?.map((each) => (onAxis(each) ? part(each) : each))),
    { ...layout, shapes: null, annotations: null },
  ]);
}

// When a slider is moved, most figures differ from the one before only in what a frame of an animation can change. Drawn
// as one, a figure costs a third: axes, legend, margins and buttons stay as they are.
async function put(chart, Plotly, { data = [], layout = {} }) {
  const still = chart.held ? stillness({ data, layout }) : null;
  const same = still && still === chart.still;
  chart.still = still;
  if (same) {
    const { shapes = [], annotations = [] } = layout;
    return Plotly.animate(chart.plot, { data, layout: { shapes, annotations } }, AT_ONCE);
  }
  layout.template = chart.template;
  // With its size given and its data called new, Plotly need not measure the page and compare all of the layout.
  Object.assign(layout, { autosize: !chart.size, datarevision: chart.drawn, ...chart.size });
  layout.uirevision ??= chart.key;
  if (layout.dragmode === undefined && matchMedia("(pointer: coarse)").matches) layout.dragmode = false;
  return Plotly.react(chart.plot, data, layout, chart.drawn ? undefined : config(chart)); // it is kept
}

async function draw(chart) {
  chart.waiting = false;
  const Plotly = await loadPlotly();
  if (!chart.frame.isConnected) return;
  const table = chart.dark ? PALETTE.dark : PALETTE.light;
  const figure = resolve(JSON.parse(chart.text.slice(chart.text.indexOf("\n"))), table);
  chart.template ??= template(chart, chart.dark, table);
  await put(chart, Plotly, figure);
  share(chart);
  for (const svg of chart.plot.querySelectorAll("svg.main-svg:not([aria-hidden])")) svg.setAttribute("aria-hidden", "true");
  chart.drawn += 1;
  if (!chart.waiting) chart.frame.dataset.state = "drawn";
  chart.frame.dataset.drawn = chart.drawn;
}

function inView(chart) {
  const box = chart.frame.getBoundingClientRect();
  return box.bottom > -100 && box.top < window.innerHeight + 100;
}

// Charts in view are drawn at once; the others as soon as the browser has time.
function schedule(chart, failed) {
  chart.frame.dataset.state = "waiting";
  if (chart.waiting) return;
  chart.waiting = true;
  const go = () => inTurn(chart, () => draw(chart).catch((error) => failed(chart, error)));
  if (inView(chart) || !chart.drawn || !window.requestIdleCallback) go();
  else window.requestIdleCallback(go, { timeout: 250 });
}

function show(chart, text, dark, held = false) {
  if (text === chart.text && dark === chart.dark) return;
  const head = JSON.parse(text.slice(0, text.indexOf("\n")));
  chart.text = text;
  chart.held = held;
  if (dark !== chart.dark) chart.template = chart.still = null;
  chart.dark = dark;
  chart.key = head.key;
  chart.frame.style.height = `${head.height}px`;
  chart.frame.style.background = dark ? PALETTE.dark.background : PALETTE.light.background;
  chart.frame.dataset.key = head.key;
  chart.picture.setAttribute("aria-label", head.alt);
  schedule(chart, (broken, error) => {
    broken.frame.dataset.state = "failed";
    console.error(error);
    broken.fail("failed", true);
  });
}

// What draws a chart, with these colours and plotly.js from this address.
export function begin(palette, plotly) {
  [PALETTE, PLOTLY_PATH] = [palette, plotly];
  loadPlotly().catch(() => {}); // a chart says so
  return drawn;
}

// The page's own figure is the settled one, which may come ahead of the page. While a slider is held others are shown in
// its place, where they are seen.
function drawn({ parentElement, data, setStateValue }) {
  let chart = charts.get(parentElement);
  if (!chart) charts.set(parentElement, (chart = build(parentElement)));
  chart.fail = setStateValue;
  const text = typeof data === "string" ? data : new TextDecoder().decode(data);
  const dark = isDark(parentElement);
  // Of the charts in folds many may be open: theirs, too, are drawn as an animation's frame where only numbers changed.
  show(chart, text === chart.settled ? chart.text : text, dark, Boolean(parentElement.closest?.("details")));
  chart.settled = text;
  drag.charts.set(chart.key, {
    show: (other) => { if (inView(chart)) show(chart, other, chart.dark, true); },
    settle: (text = chart.settled) => { chart.settled = text; show(chart, text, chart.dark, true); },
  });
  return () => {
    drag.charts.delete(chart.key);
    leave(chart);
    chart.sized.disconnect();
    chart.frame.remove();
    inTurn(chart, () => { if (window.Plotly && chart.drawn) window.Plotly.purge(chart.plot); });
    charts.delete(parentElement);
  };
}
