// The data of a chart as CSV: what is drawn, in the units of its axes.
// A trace whose name says too little for a head of a column says more in `meta.column`; one whose texts, not its
// colours, are the data (a map, a ribbon) sets `meta.texts`.
// An area between lines that are drawn adds nothing to them.

export const GRID = {
  width: 24, height: 24,
  path: "M3 4h6v4H3zM11 4h10v4H11zM3 10h6v4H3zM11 10h10v4H11zM3 16h6v4H3zM11 16h10v4H11z",
};
const KINDS = { f4: Float32Array, f8: Float64Array, i1: Int8Array, i2: Int16Array, i4: Int32Array,
  u1: Uint8Array, u2: Uint16Array, u4: Uint32Array };

function listOf(part) {
  if (part && part.bdata) {
    const bytes = Uint8Array.from(atob(part.bdata), (sign) => sign.charCodeAt(0));
    const flat = Array.from(new KINDS[part.dtype](bytes.buffer));
    if (!part.shape) return flat;
    const width = Number(String(part.shape).split(",").pop());
    return Array.from({ length: flat.length / width }, (_, row) => flat.slice(row * width, (row + 1) * width));
  }
  return part === undefined || part === null ? [] : Array.from(part);
}

function plainText(text) {
  const box = document.createElement("textarea");
  box.innerHTML = String(text ?? "").replace(/<br ?\/?>/g, " ").replace(/<\/?(b|i|sub|sup|span|em)\b[^>]*>/g, "");
  return box.value;
}

// The title of an axis; without one of its own, that of an axis it moves with.
function axisTitle(layout, id) {
  const name = (other) => other.replace(/^([xy])/, "$1axis");
  const title = (axis) => plainText(axis?.title?.text ?? axis?.title ?? "");
  const own = layout[name(id)] || {};
  const partner = Object.keys(layout).find((key) => layout[key]?.matches === id && title(layout[key]));
  return title(own) || (own.matches && title(layout[name(own.matches)])) || (partner && title(layout[partner])) || "";
}

// Blocks of columns: {heads: [...], columns: [[...], ...]}. Traces over the same places share a block.
function blocksOf(data, layout) {
  const blocks = [];
  const add = (key, head, places, columns) => {
    let block = key && blocks.find((one) => one.key === key && same(one.columns[0], places));
    if (!block) blocks.push((block = { key, heads: [head], columns: [places], first: columns[0]?.[0] }));
    for (const [name, values] of columns) {
      block.heads.push(name);
      block.columns.push(values);
    }
  };
  data.forEach((trace, place) => {
    const [x, y] = [listOf(trace.x), listOf(trace.y)];
    const [across, up] = [axisTitle(layout, trace.xaxis || "x"), axisTitle(layout, trace.yaxis || "y")];
    let name = plainText(trace.meta?.column ?? trace.name);
    if (!name && data[place + 1]?.fill === "tonexty") name = `${plainText(data[place + 1].name) || "area"} (from)`;
    else if (trace.fill === "tonexty") name = `${name || "area"} (to)`;
    const called = (title) => (name && title ? `${name}: ${title}` : name || title);
    if (trace.z !== undefined) {
      const z = listOf(trace.z).map(listOf);
      const cells = z.flatMap((row, down) =>
        row.map((value, right) => [x[right] ?? right, y[down] ?? down, value, down, right]));
      const shown = Array.isArray(trace.text) && Array.isArray(trace.text[0]);
      const title = plainText(trace.colorbar?.title?.text) || plainText(layout.title?.text) || name || "value";
      const texts = cells.map(([, , , down, right]) => (shown ? plainText(trace.text[down]?.[right]) : ""));
      const columns = [[up, cells.map((cell) => cell[1])]];
      if (!shown || !trace.meta?.texts) columns.push([title, cells.map((cell) => cell[2])]);
      if (shown) columns.push([trace.meta?.texts ? name : `${title}, as shown`, texts]);
      add("", across, cells.map((cell) => cell[0]), columns);
    } else if (trace.type === "bar") {
      const flat = trace.orientation === "h";
      const [places, lengths, title] = flat ? [y, x, across] : [x, y, up];
      const base = listOf(trace.base);
      const spread = flat ? trace.error_x : trace.error_y;
      const columns = base.length
        ? [[called(`${title} (from)`), base], [called(`${title} (to)`), base.map((from, row) => from + lengths[row])]]
        : [[called(title), lengths]];
      if (spread?.array) {
        const more = listOf(spread.array);
        const less = spread.symmetric === false ? listOf(spread.arrayminus) : more;
        columns.push([called(`${title} (low)`), lengths.map((value, row) => value - less[row])]);
        columns.push([called(`${title} (high)`), lengths.map((value, row) => value + more[row])]);
      }
      if (base.length) add("", ...takeFirst(trace.meta?.texts ? [[name, listOf(trace.text)], ...columns] : columns));
      else add(`bar ${flat}`, (flat ? up : across) || "of", places.map(plainText), columns);
    } else if (trace.fill !== "toself" && x.some((value, row) => value !== null && y[row] !== null && y[row] !== undefined)) {
      add(across || "x", across || "x", x, [[called(up) || "y", y]]);
    }
  });
  const shared = blocks.filter((block) => blocks.some((other) => other !== block && other.heads[0] === block.heads[0]));
  for (const block of shared) {
    if (block.key && block.first) block.heads[0] = `${block.heads[0]}, for ${block.first.split(": ")[0]}`;
  }
  return blocks;
}

function takeFirst([[head, values], ...others]) {
  return [head, values, others];
}

function same(one, other) {
  return one.length === other.length && one.every((value, row) => value === other[row]);
}

// A cell: numbers to seven digits, text in quotes where it must be, and nothing that a spreadsheet would carry out.
function cell(value) {
  if (value === null || value === undefined || (typeof value === "number" && !Number.isFinite(value))) return "";
  if (typeof value === "number") return String(Number(value.toPrecision(7)));
  let text = String(value);
  if (/^[=+\-@\t]/.test(text) && !/^-\d[\d.,]*( [^\s=+|!()]*)?$/.test(text)) text = `'${text}`;
  return /[",;\n\r]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

function figureAsCsv(data, layout) {
  const columns = blocksOf(data, layout).flatMap((block) =>
    block.columns.map((values, place) => [block.heads[place], values]));
  const rows = Math.max(0, ...columns.map(([, values]) => values.length));
  const lines = [columns.map(([head]) => cell(head))];
  for (let row = 0; row < rows; row += 1) lines.push(columns.map(([, values]) => cell(values[row])));
  return lines.map((line) => line.join(",")).join("\r\n") + "\r\n";
}

export function saveCsv(chart) {
  const text = "\ufeff" + figureAsCsv(chart.plot.data, chart.plot.layout);
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type: "text/csv;charset=utf-8" }));
  link.download = `${chart.key}.csv`;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}
