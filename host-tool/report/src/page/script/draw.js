// Shows any part of the chart at the width at hand. It takes the still drawing, which the page shows
// without this script, and moves what is in it. Where a panel stands, which ticks there are and
// how a label may be cut is told by the model.

const byId = (id) => document.getElementById(id);
const model = JSON.parse(byId("model").textContent);
const plot = byId("plot"), legend = byId("legend"), when = byId("when");
const { left, right, row, rows, bottom, height: tall, character, apart } = model.frame;
const curves = [];
for (const panel of model.panels) {
  panel.log = panel.spread === "log";
  panel.ruler = panel.log ? Math.log10 : (value) => value;
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

// The drawing whose parts are moved: what stays in it, and what is made for each view.
const svg = document.querySelector(".still svg")?.cloneNode(true);
const find = (selector) => [...svg?.querySelectorAll(selector) ?? []];
find(".grid, .tick, .edge, .curve, .name, .stage, .event").forEach((part) => part.remove());
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
// What is in view of the curves that are shown, on the ruler, and a little more.
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
  [low, high] = [panel.ruler(low), panel.ruler(high)];
  const room = Math.max(0.04 * (high - low), panel.room);
  if (panel.log || high - low < panel.room) [low, high] = [low - room, high + room];
  if (panel.log) return [low, high];
  // An axis ends on its labels.
  const { step } = levelOf(panel.levels, low, high, panel.most);
  return [Math.floor(low / step + 1e-9) * step, Math.ceil(high / step - 1e-9) * step];
};
// The finest level that has room for its labels.
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

const drawBands = (into) => model.bands.forEach((band, i) => {
  const [from, to] = [band.from_s, band.to_s].map((at) => clamp(x(at), left, width - right));
  place(bands[i], { x: px(from), width: px(to - from) });
  const label = band.forms.find((form) => form.length * character <= to - from - 4);
  if (label) into.append(make("text", { class: "stage", x: px((from + to) / 2), y: row - 5, "text-anchor": "middle" }, label));
});
const drawMarks = (into) => {
  const ends = new Array(rows).fill(0);
  model.marks.forEach(({ at_s, name }, i) => {
    const seen = at_s >= view.from - 1 && at_s <= view.to + 1, at = clamp(x(at_s), left, width - right);
    place(marks[i], { x1: px(at), x2: px(at), visibility: seen ? "visible" : "hidden" });
    const wide = character * (name.length + 2), toLeft = at + wide > width, from = toLeft ? at - wide : at;
    const free = seen ? ends.findIndex((end) => end <= from) : -1;
    if (free < 0) return;
    ends[free] = from + wide + 4;
    const where = { class: "event", x: px(at + (toLeft ? -5 : 5)), y: row * (free + 2) - 4, "text-anchor": toLeft ? "end" : "start" };
    into.append(make("text", where, name));
  });
};
const pathOf = (curve, y) => {
  let path = "";
  for (const { times, values } of curve.runs) {
    const from = Math.max(0, after(times, view.from) - 1), to = Math.min(times.length, after(times, view.to) + 1);
    for (let i = from; i < to; i++) path += (i === from ? "M" : "L") + px(x(times[i])) + " " + px(y(curve.panel.ruler(values[i])));
    if (to - from === 1) path += "h0";
  }
  return path;
};
const drawPanel = (into, panel) => {
  const { top, height } = panel, [low, high] = rangeOf(panel), edges = { x1: left, x2: width - right };
  const y = (onRuler) => top + height * (high - onRuler) / (high - low);
  for (const tick of ticksOf(panel.levels, low, high, panel.most)) {
    const at = px(y(tick));
    into.append(make("line", { class: "grid", ...edges, y1: at, y2: at }));
    into.append(make("text", { class: "tick", x: left - 7, y: at + 4, "text-anchor": "end" }, tickText(panel, tick)));
  }
  into.append(make("line", { class: "edge", ...edges, y1: top + height, y2: top + height }));
  // A drawing inside the drawing cuts off what is out of view.
  const box = [left, top - 3, px(width - left - right), height + 6];
  const inner = make("svg", { x: box[0], y: box[1], width: box[2], height: box[3], viewBox: box.join(" ") });
  for (const curve of panel.curves.filter((curve) => curve.shown).reverse()) {
    inner.append(make("path", { class: "curve " + curve.class, d: pathOf(curve, y) }));
  }
  into.append(inner);
};
const drawTimes = (into) => {
  for (const at of ticksOf(model.levels, view.from, view.to, Math.max(2, (width - left - right) / apart))) {
    into.append(make("line", { class: "edge", x1: px(x(at)), x2: px(x(at)), y1: bottom, y2: bottom + 5 }));
    into.append(make("text", { class: "tick", x: px(Math.min(x(at), width - 18)), y: bottom + 18, "text-anchor": "middle" }, clock(at)));
  }
  if (cursor !== null && cursor >= view.from && cursor <= view.to) {
    into.append(make("line", { class: "cursor", x1: px(x(cursor)), x2: px(x(cursor)), y1: row, y2: bottom }));
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
