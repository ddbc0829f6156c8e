// Charts over the same run share a cursor: what is pointed at in one of them is read at that instant in all of them.

const cursors = new Map(); // name: charts

// The point of a trace at x: of a ribbon the stretch, of a line the nearest point; none of what is only a mark.
function at(trace, x) {
  if (trace.visible !== true || trace.hoverinfo === "skip") return -1;
  if (trace.orientation === "h") return trace.customdata.findIndex(([start, end]) => start <= x && x <= end);
  if (!trace.mode?.includes("lines") || !trace.x?.length) return -1;
  let [low, high] = [0, trace.x.length - 1];
  if (x < trace.x[low] || x > trace.x[high]) return -1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (trace.x[middle] <= x) low = middle;
    else high = middle;
  }
  return x - trace.x[low] <= trace.x[high] - x ? low : high;
}

function read(plot, x) {
  const points = plot._fullData.map((trace, curveNumber) => ({ curveNumber, pointNumber: at(trace, x) }));
  const found = points.filter(({ pointNumber }) => pointNumber >= 0);
  if (found.length) window.Plotly.Fx.hover(plot, found, Object.keys(plot._fullLayout._plots));
}

function together(chart) {
  return [...(cursors.get(chart.cursor) ?? [])].filter((each) => each.plot.isConnected);
}

// After a chart was drawn: it joins those whose layout names the same cursor.
export function share(chart) {
  const name = chart.plot.layout?.meta?.cursor;
  if (chart.cursor === name) return;
  leave(chart);
  chart.cursor = name;
  if (!name) return;
  if (!cursors.has(name)) cursors.set(name, new Set());
  cursors.get(name).add(chart);
  if (chart.listens) return;
  chart.listens = true;
  chart.plot.on("plotly_hover", ({ event, xvals }) => {
    if (Array.isArray(event) || !xvals) return; // what `read` itself has shown
    for (const each of together(chart)) read(each.plot, xvals[0]);
  });
  chart.plot.on("plotly_unhover", () => {
    for (const each of together(chart)) if (each !== chart) window.Plotly.Fx.unhover(each.plot);
  });
}

export function leave(chart) {
  cursors.get(chart.cursor)?.delete(chart);
  chart.cursor = undefined;
}
