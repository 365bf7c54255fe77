// The values of a chart by pointer, finger and keyboard. Every mark that carries a tooltip is a
// stop; what it says is the chart's own data. The library's own tooltip is not used: its nearest
// mark is found without its data, so that every field of it reads "undefined".

// A month is one stop, though its dot and its bar of the strip both tell of it.
const NAMES_A_STOP = ["Month", "Period", "Quarter"];

function* told(mark) {
  for (const item of mark.items) {
    if (mark.marktype === "group") for (const inner of item.items) yield* told(inner);
    else if (item.tooltip && typeof item.tooltip === "object") yield item;
  }
}
const facts = ({ tooltip }) =>
  Object.entries(tooltip).map(([name, value]) => [name, String(value)]).filter(([, value]) => value);

// The stops of a chart in reading order: facts ([name, value]), month, place in px from the corner
// of its box. They are found once for each way it is drawn, and anew where its box is another size:
// to ask for the size at every key would lay out a page of a hundred charts at every key.
const resized = new ResizeObserver((seen) => {
  for (const { target } of seen)
    CHARTS.find(({ reach }) => reach === target).known = null;
});
function stopsOf(chart) {
  const { view, known } = chart;
  if (known?.view !== view) chart.known = { view, stops: findStops(chart) };
  return chart.known.stops;
}

function findStops(chart) {
  const box = chart.reach.getBoundingClientRect();
  const stops = new Map();
  for (const item of told(chart.view.scenegraph().root)) {
    const { Group, ...rest } = item.tooltip;
    const name = NAMES_A_STOP.find((one) => one in rest);
    const key = name ? JSON.stringify([Group, rest[name]]) : JSON.stringify(item.tooltip);
    const { left, top, width, height } = item._svg.getBoundingClientRect();
    const at = { x: left - box.left + width / 2, y: top - box.top + height / 2 };
    if (!stops.has(key))
      stops.set(key, { facts: facts(item), month: item.datum.Month ?? null,
        half: Math.min(Math.max(width, height) / 2, 12), ...at });
  }
  const isDown = readsDown(chart);
  const order = isDown ? (one) => [one.y, one.x] : (one) => [one.x, one.y];
  return [...stops.values()].sort((one, other) => {
    const [first, second] = [order(one), order(other)];
    return Math.abs(first[0] - second[0]) > 1 ? first[0] - second[0] : first[1] - second[1];
  });
}
const readsDown = ({ spec }) => spec.usermeta?.read === "down";
// How much a px across and a px down count for what is nearest: months are found by x alone.
const WEIGHTS = { across: [1, 0.001], down: [0.05, 1], both: [1, 1] };

function nearest(chart, event) {
  const [across, down] = WEIGHTS[chart.spec.usermeta?.read ?? "across"];
  const box = chart.reach.getBoundingClientRect();
  const [left, top] = [event.clientX - box.left, event.clientY - box.top];
  const far = ({ x, y }) => across * (x - left) ** 2 + down * (y - top) ** 2;
  return stopsOf(chart).reduce((best, one) => (!best || far(one) < far(best) ? one : best), null);
}

// ---- one stop shown ------------------------------------------------------------------------
const keyOf = (stop) => (stop ? JSON.stringify(stop.facts) : "");

function sayStop(chart, stop, isSpoken) {
  if (chart.at === keyOf(stop)) return;
  hideStop(chart);
  if (!stop) return;
  chart.at = keyOf(stop);
  const { reach, said } = chart;
  const lines = stop.facts.map(([name, value]) =>
    made("div", {}, made("dt", {}, name), made("dd", {}, value)));
  chart.tip = made("dl", { className: "tip" }, ...lines);
  chart.ring = made("span", { className: "at" });
  for (const one of [chart.tip, chart.ring]) one.setAttribute("aria-hidden", "true");
  reach.append(chart.ring, chart.tip);
  // Once the browser lays out the page for its next picture, not now and then again.
  const { tip } = chart;
  requestAnimationFrame(() => chart.tip === tip && placeStop(chart, stop));
  const [[first, value], ...rest] = stop.facts;
  const head = NAMES_A_STOP.includes(first) ? value : `${first} ${value}`;
  if (isSpoken)
    said.textContent = [head, ...rest.map((one) => one.join(" "))].join("; ");
  point(chart, stop.month);
}

function placeStop({ reach, tip, ring }, { x, y, half }) {
  Object.assign(ring.style, { left: `${x}px`, top: `${y}px`, width: `${2 * half + 10}px` });
  const { offsetWidth: wide, offsetHeight: high } = tip;
  const away = half + 14;
  const isRight = x + away + wide <= reach.offsetWidth;
  const beside = isRight ? x + away : Math.max(0, x - away - wide);
  const down = Math.max(0, Math.min(y - high / 2, reach.offsetHeight - high));
  Object.assign(tip.style, { left: `${beside}px`, top: `${down}px` });
}

// What is drawn anew has its stops elsewhere: it is hidden first, and they are found again.
function forget(chart) {
  if (chart.view) hideStop(chart);
  chart.known = null;
}

function hideStop(chart) {
  if (!chart.at) return;
  chart.tip?.remove();
  chart.ring?.remove();
  chart.at = "";
  point(chart, null);
}

// The chart draws the interval of the month that is pointed at.
function point({ view, spec }, month) {
  if (!spec.params?.some(({ name }) => name === "pointed")) return;
  if (view.signal("pointed") !== month) view.signal("pointed", month).run();
}

// ---- where keys and pointers go --------------------------------------------------------------
const KEYS = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 };

function step(chart, event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === "Escape") hideStop(chart);
  const stops = stopsOf(chart);
  const at = stops.findIndex((one) => keyOf(one) === chart.at);
  const last = stops.length - 1;
  // Without a stop the last month is where reading begins; rows begin at the top.
  const begin = readsDown(chart) ? 0 : last;
  let to = { Home: 0, End: last }[event.key];
  if (event.key in KEYS) to = at < 0 ? begin : at + KEYS[event.key];
  if (to === undefined || !stops.length) return;
  event.preventDefault();
  sayStop(chart, stops[Math.max(0, Math.min(last, to))], true);
}

// What stands around a drawing, once it is drawn: the part that is reached by keys, and beneath
// it the line that says a value and the ways to take the chart along.
function makeReadable(chart) {
  const { box, place } = chart;
  if (chart.reach) return;
  const name = headingOf(box);
  chart.reach = made("div", { className: "reach", tabIndex: 0 });
  chart.reach.setAttribute("role", "application");
  chart.reach.setAttribute("aria-roledescription", "chart");
  chart.reach.setAttribute("aria-label", `${name}: values, one by one with the arrow keys`);
  chart.said = made("output", { className: "said" });
  chart.said.setAttribute("aria-live", "polite");
  place.before(chart.reach);
  resized.observe(chart.reach);
  chart.reach.append(place);
  chart.reach.after(made("div", { className: "under" }, chart.said, waysToTake(chart)));
  chart.reach.addEventListener("keydown", (event) => step(chart, event));
  chart.reach.addEventListener("blur", () => hideStop(chart));
  const take = (event) => sayStop(chart, nearest(chart, event), event.pointerType !== "mouse");
  for (const kind of ["pointermove", "pointerdown"]) place.addEventListener(kind, take);
  // A finger that is lifted leaves what it has shown.
  place.addEventListener("pointerleave", (event) => event.pointerType === "mouse" && hideStop(chart));
}

function headingOf(box) {
  const panel = box.closest(".panel")?.querySelector("h3");
  const heads = [...document.querySelectorAll("main :is(h1,h2,h3)")];
  const above = heads.filter((one) => one.compareDocumentPosition(box) & 4).at(-1);
  return (panel ?? above)?.firstChild?.textContent.trim() || document.title;
}
