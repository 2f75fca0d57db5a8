// Axes and labels: where a value stands, and what is written beside it. The same rules as in the
// still drawing, for any width and any part of the firing.

const px = (value) => Math.round(value * 10) / 10;
const clamp = (value, low, high) => Math.min(Math.max(value, low), high);

const clock = (at, seconds) => {
  const whole = Math.max(0, Math.round(at)), pad = (n) => String(n).padStart(2, "0");
  const text = Math.floor(whole / 3600) + ":" + pad(Math.floor(whole / 60) % 60);
  return seconds || whole % 60 ? text + ":" + pad(whole % 60) : text;
};

// The first index whose time is after `at`.
const after = (times, at) => {
  let low = 0, high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] > at) high = middle; else low = middle + 1;
  }
  return low;
};

const shown = (curve, value) => {
  if (value === null) return "–";
  const log = curve.panel.spread === "log";
  const text = log && value < 100 ? String(Number(value.toPrecision(3))) : value.toFixed(log ? 0 : curve.decimals);
  return text.replace("-", "−") + " " + curve.unit;
};

const nice = (rough) => {
  const power = 10 ** Math.floor(Math.log10(rough));
  return ([1, 2, 5].find((step) => step * power >= rough * 0.999) || 10) * power;
};
const linearAxis = (low, high, parts) => {
  if (!(high > low)) { low -= 0.5; high += 0.5; }
  const step = nice((high - low) / parts), first = Math.floor(low / step), last = Math.ceil(high / step);
  const ticks = Array.from({ length: last - first + 1 }, (_, i) => (first + i) * step);
  return { low: first * step, high: last * step, ticks, ruler: (value) => value };
};
const logAxis = (low, high) => {
  const round = [];
  for (let power = Math.floor(Math.log10(low)); power <= Math.ceil(Math.log10(high)) + 1; power++) {
    round.push(...[1, 2, 5].map((digit) => Number(digit + "e" + power)));
  }
  const from = Math.max(0, round.findLastIndex((value) => value <= low * 1.001));
  const to = Math.max(from + 1, round.findIndex((value) => value >= high * 0.999));
  let ticks = round.slice(from, to + 1);
  const ends = { low: ticks[0], high: ticks[ticks.length - 1] };
  if (ticks.length > 7) ticks = ticks.filter((value) => Math.abs(Math.log10(value) % 1) < 1e-9);
  return { ...ends, ticks, ruler: Math.log10 };
};
const STEPS = [1, 5, 10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800];
const fitting = (label, wide) => {
  const room = Math.max(0, Math.floor(wide / 7)), number = label.split(" ")[0];
  if (label.length <= room) return label;
  if (room < number.length + 4) return room >= number.length ? number : "";
  return label.slice(0, room - 1).trimEnd() + "…";
};
const tickText = (value) => {
  const text = value !== 0 && Math.abs(value) < 1e-3 ? value.toExponential() : String(Math.round(value * 1e4) / 1e4);
  return text.replace("-", "−");
};
