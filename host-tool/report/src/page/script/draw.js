// Draws any part of the chart at the width of the window. It reuses the still drawing, which the page
// shows without this script. Positions of panels, ticks and labels come from the model, and labels
// are placed by the rules of the still drawing.

const byId = (id) => document.getElementById(id);
const model = JSON.parse(byId("model").textContent);
const plot = byId("plot"), legend = byId("legend"), when = byId("when");
const { left, right, row, stage_rows, mark_rows, bottom, height: tall, character, time_tick_distance } = model.frame;
// Below this width the curves are named only in the legend above the chart.
const NAMES_FROM = 620;
const curves = [];
for (const panel of model.panels) {
  panel.log = panel.scale === "log";
  panel.units = panel.log ? Math.log10 : (value) => value;
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

const px = (value) => Math.round(value * 10) / 10;
const clamp = (value, low, high) => Math.min(Math.max(value, low), high);
const clock = (at, seconds) => {
  const whole = Math.max(0, Math.round(at)), pad = (n) => String(n).padStart(2, "0");
  const text = Math.floor(whole / 3600) + ":" + pad(Math.floor(whole / 60) % 60);
  return seconds || whole % 60 ? text + ":" + pad(whole % 60) : text;
};
const shown = (curve, value) => {
  if (value === null) return "–";
  const log = curve.panel.log;
  const text = log && value < 100 ? String(Number(value.toPrecision(3))) : value.toFixed(log ? 0 : curve.decimals);
  return text.replace("-", "−") + " " + curve.unit;
};

// Keeps the static parts of the still drawing and removes those that are redrawn for each view.
const svg = document.querySelector(".still svg")?.cloneNode(true);
const find = (selector) => [...svg?.querySelectorAll(selector) ?? []];
find(".grid, .tick, .edge, .curve, .name, .stage, .mark-label, .threshold, .threshold-label, .point, .point-label").forEach((part) => part.remove());
const bands = find(".band"), marks = find(".mark"), caption = find(".title[text-anchor]")[0];
const place = (element, attributes) => {
  for (const key of Object.keys(attributes)) element.setAttribute(key, attributes[key]);
  return element;
};
const make = (name, attributes, text) => {
  const element = place(document.createElementNS(svg.namespaceURI, name), attributes);
  if (text !== undefined) element.textContent = text;
  return element;
};
const x = (at) => left + (at - view.from) / (view.to - view.from) * (width - left - right);
const time = (at) => view.from + (at - left) / (width - left - right) * (view.to - view.from);
// The first index whose time is after `at`.
const after = (times, at) => {
  let low = 0, high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] > at) high = middle; else low = middle + 1;
  }
  return low;
};
const valueAt = (curve, at) => {
  for (const { times, values } of curve.runs) {
    const last = times.length - 1;
    if (at < times[0] - 0.5 || at > times[last] + 0.5) continue;
    const next = clamp(after(times, at), 1, last);
    if (last === 0) return values[0];
    const span = times[next] - times[next - 1];
    const share = span > 0 ? clamp((at - times[next - 1]) / span, 0, 1) : 1;
    const mix = (a, b) => a + (b - a) * share;
    const [a, b] = [values[next - 1], values[next]];
    return curve.panel.log ? Math.exp(mix(Math.log(a), Math.log(b))) : mix(a, b);
  }
  return null;
};
// The range of the visible parts of the shown curves, in axis units, and a margin.
const rangeOf = (panel) => {
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
  [low, high] = [panel.units(low), panel.units(high)];
  const margin = Math.max(0.04 * (high - low), panel.margin);
  if (panel.log || high - low < panel.margin) [low, high] = [low - margin, high + margin];
  if (panel.log) return [low, high];
  // Both ends of the axis are labels.
  const { step } = levelOf(panel.levels, low, high, panel.ticks_max);
  return [Math.floor(low / step + 1e-9) * step, Math.ceil(high / step - 1e-9) * step];
};
// The finest level whose labels fit.
const levelOf = (levels, low, high, most) => {
  const fits = ({ step, at }) => (high - low) / step * at.length <= most;
  return levels.findLast(fits) ?? levels[0];
};
const ticksOf = (levels, low, high, most) => {
  const { step, at } = levelOf(levels, low, high, most);
  const ticks = [];
  for (let i = Math.floor(low / step); i * step <= high; i++) ticks.push(...at.map((more) => i * step + more));
  return ticks.filter((tick) => low <= tick && tick <= high);
};
const tickText = (panel, tick) => {
  const value = panel.log ? (10 ** tick).toPrecision(2) : tick.toFixed(4);
  return String(Number(value)).replace("-", "−");
};

const text = (into, name, x, y, anchor, words) =>
  into.append(make("text", { class: name, x: px(x), y: px(y), "text-anchor": anchor }, words));
// Each stage gets its whole label where it fits, or else its number, never a part of a name.
const drawBands = (into) => {
  const ends = new Array(stage_rows).fill(-Infinity);
  model.bands.forEach((band, i) => {
    const [from, to] = [band.from_s, band.to_s].map((at) => clamp(x(at), left, width - right));
    place(bands[i], { x: px(from), width: px(to - from) });
    if (to - from < 0.5) return;
    const fits = band.label.length * character <= to - from - 4;
    const label = fits ? band.label : String(band.number);
    const middle = (from + to) / 2, half = label.length * character / 2;
    const free = ends.findIndex((end) => end <= middle - half);
    if (free < 0) return;
    ends[free] = middle + half + 1;
    text(into, "stage", middle, row * (free + 1) - 5, "middle", label);
  });
};
const drawMarks = (into) => {
  const ends = new Array(mark_rows).fill(0);
  model.marks.forEach((mark, i) => {
    const seen = mark.at_s >= view.from - 1 && mark.at_s <= view.to + 1, at = clamp(x(mark.at_s), left, width - right);
    place(marks[i], { x1: px(at), x2: px(at), visibility: seen ? "visible" : "hidden" });
    const wide = character * (mark.name.length + 2), toLeft = at + wide > width, from = toLeft ? at - wide : at;
    const free = seen ? ends.findIndex((end) => end <= from) : -1;
    if (free < 0) return;
    ends[free] = from + wide + 4;
    const y = row * (stage_rows + free + 1) - 4;
    text(into, "mark-label " + mark.class, at + (toLeft ? -5 : 5), y, toLeft ? "end" : "start", mark.name);
  });
};
// The names of the curves at the right above their panel.
const drawNames = (into, panel) => {
  if (width < NAMES_FROM) return;
  let end = width - right;
  for (const curve of panel.curves.filter((curve) => curve.shown).reverse()) {
    const start = end - 1.06 * character * curve.name.length, y = panel.top - 9;
    into.append(make("line", { class: "curve " + curve.class, x1: px(start - 32), x2: px(start - 6), y1: y - 4, y2: y - 4 }));
    text(into, "name", start, y, "start", curve.name);
    end = start - 46;
  }
};
// Whether a line is so close above a point that its label has to stand below it.
const isCrowded = (panel, y, { value }) => panel.thresholds.some((one) => {
  const gap = y(panel.units(value)) - y(panel.units(one.value));
  return gap > 1 && gap < 20;
});
const drawThresholds = (into, panel, y, edges) => {
  // On the other side of the line than the labels of the points, which reach it on a narrow page.
  const above = panel.points.length === 0 || panel.points.some((point) => isCrowded(panel, y, point));
  for (const { value, label } of panel.thresholds) {
    const at = px(y(panel.units(value)));
    if (!(at >= panel.top - 1 && at <= panel.top + panel.height + 1)) continue;
    into.append(make("line", { class: "threshold", ...edges, y1: at, y2: at }));
    text(into, "threshold-label", left + 6, above ? at - 5 : at + 16, "start", label);
  }
};
const drawPoints = (into, panel, y) => {
  for (const point of panel.points) {
    const { at_s, value, label, class: kind } = point;
    if (at_s < view.from || at_s > view.to) continue;
    const at = x(at_s), high = y(panel.units(value)), crowded = isCrowded(panel, y, point);
    const toLeft = at + label.length * character > width - right;
    into.append(make("circle", { class: "point " + kind, cx: px(at), cy: px(high), r: 4.5 }));
    text(into, "point-label " + kind, at + (toLeft ? 4 : -4), crowded ? high + 16 : high - 8, toLeft ? "end" : "start", label);
  }
};
const pathOf = (curve, y) => {
  let path = "";
  for (const { times, values } of curve.runs) {
    const from = Math.max(0, after(times, view.from) - 1), to = Math.min(times.length, after(times, view.to) + 1);
    for (let i = from; i < to; i++) path += (i === from ? "M" : "L") + px(x(times[i])) + " " + px(y(curve.panel.units(values[i])));
    if (to - from === 1) path += "h0";
  }
  return path;
};
const drawPanel = (into, panel) => {
  const { top, height } = panel, [low, high] = rangeOf(panel), edges = { x1: left, x2: width - right };
  const y = (units) => top + height * (high - units) / (high - low);
  for (const tick of ticksOf(panel.levels, low, high, panel.ticks_max)) {
    const at = px(y(tick));
    into.append(make("line", { class: "grid", ...edges, y1: at, y2: at }));
    into.append(make("text", { class: "tick", x: left - 7, y: at + 4, "text-anchor": "end" }, tickText(panel, tick)));
  }
  into.append(make("line", { class: "edge", ...edges, y1: top + height, y2: top + height }));
  drawNames(into, panel);
  drawThresholds(into, panel, y, edges);
  // A nested drawing clips the curves to the panel.
  const box = [left, top - 3, px(width - left - right), height + 6];
  const inner = make("svg", { x: box[0], y: box[1], width: box[2], height: box[3], viewBox: box.join(" ") });
  for (const curve of panel.curves.filter((curve) => curve.shown).reverse()) {
    inner.append(make("path", { class: "curve " + curve.class, d: pathOf(curve, y) }));
  }
  into.append(inner);
  drawPoints(into, panel, y);
};
const drawTimes = (into) => {
  for (const at of ticksOf(model.levels, view.from, view.to, Math.max(2, (width - left - right) / time_tick_distance))) {
    into.append(make("line", { class: "edge", x1: px(x(at)), x2: px(x(at)), y1: bottom, y2: bottom + 5 }));
    into.append(make("text", { class: "tick", x: px(Math.min(x(at), width - 18)), y: bottom + 18, "text-anchor": "middle" }, clock(at)));
  }
  if (cursor !== null && cursor >= view.from && cursor <= view.to) {
    into.append(make("line", { class: "cursor", x1: px(x(cursor)), x2: px(x(cursor)), y1: row * stage_rows, y2: bottom }));
  }
};
const draw = () => {
  due = false;
  width = Math.max(260, plot.clientWidth);
  place(svg, { viewBox: "0 0 " + width + " " + tall });
  place(caption, { x: (left + width - right) / 2 });
  const made = make("g", { class: "made" });
  drawBands(made);
  for (const panel of model.panels) drawPanel(made, panel);
  drawTimes(made);
  drawMarks(made);
  svg.querySelector(".made")?.remove();
  svg.append(made);
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
