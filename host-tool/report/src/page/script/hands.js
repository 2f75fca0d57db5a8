// Input: pointing, dragging, pinching, wheel, keys and buttons.

const show = (from, to) => {
  const span = clamp(to - from, Math.min(10, model.end_s), model.end_s);
  view.from = clamp((from + to - span) / 2, 0, model.end_s - span);
  view.to = view.from + span;
  redraw();
};
const zoom = (factor, around) => show(around - (around - view.from) * factor, around + (view.to - around) * factor);
const middle = () => cursor !== null && cursor > view.from && cursor < view.to ? cursor : (view.from + view.to) / 2;
const point = (at) => { cursor = clamp(at, 0, model.end_s); redraw(); };
const whole = () => show(0, model.end_s);
const isWhole = () => view.to - view.from > model.end_s * 0.9999;

const legendButton = (curve) => {
  const button = document.createElement("button"), sample = make("svg", { class: "chart", viewBox: "0 0 26 10", "aria-hidden": "true" });
  button.type = "button";
  sample.append(make("path", { class: "curve " + curve.class, d: "M1 5H25" }));
  const called = document.createElement("span");
  called.className = "called";
  called.textContent = curve.name;
  curve.value = document.createElement("span");
  curve.value.className = "value";
  button.append(sample, called, curve.value);
  button.setAttribute("aria-pressed", curve.shown);
  button.addEventListener("click", () => {
    curve.shown = !curve.shown;
    button.setAttribute("aria-pressed", curve.shown);
    redraw();
  });
  return button;
};

const local = (event) => event.clientX - plot.getBoundingClientRect().left;
const onWheel = (event) => {
  const sideways = Math.abs(event.deltaX) > Math.abs(event.deltaY);
  // When the whole firing is in view there is nothing to move or to widen: let the page scroll.
  if (isWhole() && (sideways || event.deltaY > 0)) return;
  event.preventDefault();
  const step = (event.deltaMode === 1 ? 16 : 1) * (sideways ? event.deltaX : event.deltaY);
  if (sideways) {
    const shift = step / (width - left - right) * (view.to - view.from);
    show(view.from + shift, view.to + shift);
  } else {
    zoom(Math.exp(clamp(step, -200, 200) * 0.0025), clamp(time(local(event)), view.from, view.to));
  }
};

// One pointer moves the cursor or drags the view; two pointers zoom.
const pointers = new Map();
const onDown = (event) => {
  if (event.button !== 0) return;
  pointers.set(event.pointerId, local(event));
  try { plot.setPointerCapture(event.pointerId); } catch { /* the pointer is gone already */ }
  if (pointers.size === 1) point(time(local(event)));
};
const onMove = (event) => {
  const to = local(event), before = pointers.get(event.pointerId);
  if (before === undefined) { point(time(to)); return; }
  const other = [...pointers].find(([id]) => id !== event.pointerId);
  if (other) {
    const factor = Math.max(10, Math.abs(before - other[1])) / Math.max(10, Math.abs(to - other[1]));
    zoom(factor, time(other[1]));
  } else if (isWhole()) {
    point(time(to));
  } else {
    const shift = time(before) - time(to);
    show(view.from + shift, view.to + shift);
  }
  pointers.set(event.pointerId, to);
};
const onRelease = (event) => pointers.delete(event.pointerId);

const move = (share) => {
  point(cursor === null ? (share > 0 ? view.from : view.to) : cursor + share * (view.to - view.from));
  if (cursor < view.from || cursor > view.to) {
    const half = (view.to - view.from) / 2;
    show(cursor - half, cursor + half);
  }
};
const KEYS = {
  ArrowLeft: (by) => move(-by), ArrowRight: (by) => move(by),
  Home: () => point(view.from), End: () => point(view.to),
  "+": () => zoom(0.5, middle()), "=": () => zoom(0.5, middle()),
  "-": () => zoom(2, middle()), "0": whole, Escape: whole,
};
const onKey = (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || !Object.hasOwn(KEYS, event.key)) return;
  event.preventDefault();
  KEYS[event.key](event.shiftKey ? 0.05 : 0.005);
};

// The buttons are grouped by panel, so that curves are easy to find.
const legendGroup = (panel) => {
  const group = document.createElement("div"), title = document.createElement("span");
  group.className = "group";
  group.setAttribute("role", "group");
  group.setAttribute("aria-label", panel.title);
  title.className = "of";
  title.setAttribute("aria-hidden", "true");
  title.textContent = panel.title.replace(/,[^,]*$/, "");
  group.append(title, ...panel.curves.map(legendButton));
  return group;
};
const start = () => {
  legend.append(...model.panels.map(legendGroup));
  byId("closer").addEventListener("click", () => zoom(0.5, middle()));
  byId("wider").addEventListener("click", () => zoom(2, middle()));
  byId("whole").addEventListener("click", whole);
  plot.addEventListener("wheel", onWheel, { passive: false });
  plot.addEventListener("dblclick", whole);
  plot.addEventListener("pointerdown", onDown);
  plot.addEventListener("pointermove", onMove);
  plot.addEventListener("pointerup", onRelease);
  plot.addEventListener("pointercancel", onRelease);
  plot.addEventListener("keydown", onKey);
  byId("live").hidden = false;
  document.documentElement.classList.add("lively");
  plot.append(svg);
  new ResizeObserver(redraw).observe(plot);
  draw();
};
// The page of an empty trace has no chart.
if (plot) start();
document.documentElement.dataset.ready = "yes";
