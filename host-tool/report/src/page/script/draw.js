// Draws the chart at the width at hand, for the part of the firing that is in view. Without this
// script the page shows the same chart as a still drawing.

const byId = (id) => document.getElementById(id);
const model = JSON.parse(byId("model").textContent);
const plot = byId("plot"), legend = byId("legend"), when = byId("when");
const LEFT = 54, RIGHT = 12, ROW = 17, ROWS = 2, HEAD = ROW * (1 + ROWS) + 4, TITLE = 26, FOOT = 42;
const curves = [];
for (const panel of model.panels) {
  for (const curve of panel.curves) {
    curve.panel = panel;
    curve.runs = curve.runs.map((text) => {
      const numbers = text.split(" ").map(Number);
      const times = numbers.filter((_, i) => i % 2 === 0);
      return { times, values: numbers.filter((_, i) => i % 2 === 1) };
    });
    curves.push(curve);
  }
}
const view = { from: 0, to: model.end_s };
let cursor = null, width = 0, due = false;

// The page holds a drawing already: its name space is the right one.
const namespace = document.querySelector(".still svg")?.namespaceURI;
const make = (name, attributes, text) => {
  const element = document.createElementNS(namespace, name);
  for (const key of Object.keys(attributes)) element.setAttribute(key, attributes[key]);
  if (text !== undefined) element.textContent = text;
  return element;
};
const x = (at) => LEFT + (at - view.from) / (view.to - view.from) * (width - LEFT - RIGHT);
const time = (at) => view.from + (at - LEFT) / (width - LEFT - RIGHT) * (view.to - view.from);
const valueAt = (curve, at) => {
  const log = curve.panel.spread === "log";
  for (const { times, values } of curve.runs) {
    const last = times.length - 1;
    if (at < times[0] - 0.5 || at > times[last] + 0.5) continue;
    const next = clamp(after(times, at), 1, last);
    if (last === 0) return values[0];
    const span = times[next] - times[next - 1];
    const share = span > 0 ? clamp((at - times[next - 1]) / span, 0, 1) : 1;
    const mix = (a, b) => a + (b - a) * share;
    const [a, b] = [values[next - 1], values[next]];
    return log ? Math.exp(mix(Math.log(a), Math.log(b))) : mix(a, b);
  }
  return null;
};
// The axis for what is in view of the curves that are shown.
const axisOf = (panel, height) => {
  let [low, high] = panel.range || [Infinity, -Infinity];
  for (const curve of panel.curves.filter((curve) => curve.shown)) {
    for (const { times, values } of curve.runs) {
      const from = after(times, view.from), to = after(times, view.to);
      const seen = values.slice(from, to);
      for (const edge of [view.from, view.to]) {
        if (times[0] <= edge && edge <= times[times.length - 1]) seen.push(valueAt(curve, edge));
      }
      for (const value of seen) { low = Math.min(low, value); high = Math.max(high, value); }
    }
  }
  if (!(low <= high)) { low = 1; high = 10; }
  return panel.spread === "log" ? logAxis(low, high) : linearAxis(low, high, Math.max(4, height / 40));
};
const timeTicks = () => {
  const rough = (view.to - view.from) / Math.max(2, (width - LEFT - RIGHT) / 75);
  const step = STEPS.find((step) => step >= rough) || Math.ceil(rough / 86400) * 86400;
  const ticks = [];
  for (let i = Math.ceil(view.from / step); i * step <= view.to; i++) ticks.push(i * step);
  return ticks;
};

const drawBands = (svg, bottom) => {
  model.bands.forEach((band, index) => {
    const from = Math.max(LEFT, x(band.from_s)), to = Math.min(width - RIGHT, x(band.to_s));
    if (to <= from) return;
    const shade = index % 2 ? "band other" : "band";
    const rect = make("rect", { class: shade, x: px(from), y: 0, width: px(to - from), height: px(bottom) });
    rect.append(make("title", {}, band.number + " " + band.name + ": " + band.what));
    svg.append(rect);
    const label = fitting(band.number + " " + band.name, to - from - 4);
    if (label) svg.append(make("text", { class: "stage", x: px((from + to) / 2), y: ROW - 5, "text-anchor": "middle" }, label));
  });
};
const drawMarks = (svg, bottom) => {
  const ends = new Array(ROWS).fill(0);
  for (const mark of model.marks) {
    if (mark.at_s < view.from - 1 || mark.at_s > view.to + 1) continue;
    const at = clamp(x(mark.at_s), LEFT, width - RIGHT);
    svg.append(make("line", { class: "mark", x1: px(at), x2: px(at), y1: ROW, y2: px(bottom) }));
    const label = mark.name, wide = 7 * (label.length + 2);
    const toLeft = at + wide > width, from = toLeft ? at - wide : at;
    const row = ends.findIndex((end) => end <= from);
    if (row < 0) continue;
    ends[row] = from + wide + 4;
    const place = { class: "event", x: px(at + (toLeft ? -5 : 5)), y: ROW * (row + 2) - 4, "text-anchor": toLeft ? "end" : "start" };
    svg.append(make("text", place, label));
  }
};
const pathOf = (curve, y) => {
  let path = "";
  for (const { times, values } of curve.runs) {
    const from = Math.max(0, after(times, view.from) - 1), to = Math.min(times.length, after(times, view.to) + 1);
    for (let i = from; i < to; i++) path += (i === from ? "M" : "L") + px(x(times[i])) + " " + px(y(values[i]));
    if (to - from === 1) path += "h0";
  }
  return path;
};
const drawPanel = (svg, panel, top, height) => {
  const axis = axisOf(panel, height), span = axis.ruler(axis.high) - axis.ruler(axis.low);
  const y = (value) => top + height * (1 - (axis.ruler(value) - axis.ruler(axis.low)) / span);
  const edges = { x1: LEFT, x2: width - RIGHT };
  svg.append(make("text", { class: "title", x: LEFT, y: top - 8 }, panel.title));
  for (const tick of axis.ticks) {
    svg.append(make("line", { class: "grid", ...edges, y1: px(y(tick)), y2: px(y(tick)) }));
    svg.append(make("text", { class: "tick", x: LEFT - 6, y: px(y(tick) + 4), "text-anchor": "end" }, tickText(tick)));
  }
  svg.append(make("line", { class: "edge", ...edges, y1: top + height, y2: top + height }));
  // A drawing inside the drawing cuts off what is out of view.
  const inner = make("svg", { x: LEFT, y: top - 3, width: px(width - LEFT - RIGHT), height: height + 6, viewBox: [LEFT, top - 3, px(width - LEFT - RIGHT), height + 6].join(" ") });
  for (const curve of panel.curves.filter((curve) => curve.shown).reverse()) {
    inner.append(make("path", { class: "curve " + curve.class, d: pathOf(curve, y) }));
  }
  svg.append(inner);
};
const draw = () => {
  due = false;
  width = Math.max(260, plot.clientWidth);
  const tallest = width < 600 ? 220 : 280, svg = make("svg", { class: "chart" });
  let bottom = HEAD;
  const places = model.panels.map((panel) => {
    const place = { top: bottom + TITLE, height: Math.round(Math.max(84, tallest * panel.height)) };
    bottom = place.top + place.height;
    return place;
  });
  svg.setAttribute("viewBox", "0 0 " + width + " " + (bottom + FOOT));
  drawBands(svg, bottom);
  model.panels.forEach((panel, i) => drawPanel(svg, panel, places[i].top, places[i].height));
  for (const at of timeTicks()) {
    const where = clamp(x(at), LEFT, width - 18);
    svg.append(make("line", { class: "edge", x1: px(x(at)), x2: px(x(at)), y1: bottom, y2: bottom + 5 }));
    svg.append(make("text", { class: "tick", x: px(where), y: bottom + 18, "text-anchor": "middle" }, clock(at)));
  }
  svg.append(make("text", { class: "title", x: (LEFT + width - RIGHT) / 2, y: bottom + 36, "text-anchor": "middle" }, "Time since the start, h:min"));
  drawMarks(svg, bottom);
  if (cursor !== null && cursor >= view.from && cursor <= view.to) {
    svg.append(make("line", { class: "cursor", x1: px(x(cursor)), x2: px(x(cursor)), y1: ROW, y2: bottom }));
  }
  plot.replaceChildren(svg);
  read();
};
const redraw = () => { if (!due) { due = true; requestAnimationFrame(draw); } };

const read = () => {
  for (const curve of curves) curve.value.textContent = cursor === null ? "" : shown(curve, valueAt(curve, cursor));
  if (cursor === null) { when.textContent = "Point at the chart to read it"; return; }
  const band = model.bands.findLast((band) => band.from_s <= cursor && cursor <= band.to_s);
  const stage = band ? " · stage " + band.number + " " + band.name : "";
  when.textContent = "At " + clock(cursor, true) + stage;
};
