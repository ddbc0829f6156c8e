// Charts of the same run share a cursor: what is pointed at in one of them is read at that instant in all of them. In a
// chart over something other than time, the line that its `meta.along` names has the instants first in its custom data.

const cursors = new Map(); // name: charts

// The point of a trace at an instant: of a ribbon the stretch, of a line the nearest point; none of what is only a mark.
function at(trace, instant, along) {
  if (trace.visible !== true || trace.hoverinfo === "skip" || (along && trace.name !== along)) return -1;
  if (trace.orientation === "h") return trace.customdata.findIndex(([start, end]) => start <= instant && instant <= end);
  if (!trace.mode?.includes("lines") || !trace.x?.length) return -1;
  const when = (place) => (along ? trace.customdata[place][0] : trace.x[place]);
  let [low, high] = [0, trace.x.length - 1];
  if (instant < when(low) || instant > when(high)) return -1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (when(middle) <= instant) low = middle;
    else high = middle;
  }
  return instant - when(low) <= when(high) - instant ? low : high;
}

function read(plot, instant) {
  const { along } = plot.layout.meta;
  const points = plot._fullData.map((trace, curveNumber) => ({ curveNumber, pointNumber: at(trace, instant, along) }));
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
  chart.plot.on("plotly_hover", ({ event, xvals, points: [point] }) => {
    if (Array.isArray(event) || !xvals) return; // what `read` itself has shown
    const { along } = chart.plot.layout.meta;
    if (along && point.data.name !== along) return;
    for (const each of together(chart)) read(each.plot, along ? point.customdata[0] : xvals[0]);
  });
  chart.plot.on("plotly_unhover", () => {
    for (const each of together(chart)) if (each !== chart) window.Plotly.Fx.unhover(each.plot);
  });
}

export function leave(chart) {
  cursors.get(chart.cursor)?.delete(chart);
  chart.cursor = undefined;
}
