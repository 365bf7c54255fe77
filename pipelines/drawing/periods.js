// How much time the charts show: the months of a chart, a chart with only some of them, and a
// period that is drawn over one with the pointer.

// A chart over time is one whose x is temporal with a domain of two ends. Its months are those
// of the data set along x that tells most of each row: others hold a label or a line's end.
const asDate = (value) =>
  value && typeof value === "object"
    ? new Date(value.year, (value.month ?? 1) - 1, value.date ?? 1)
    : new Date(value);
const asSpec = (date) => ({
  year: date.getFullYear(), month: date.getMonth() + 1, date: date.getDate(),
});

function* units(spec, x = null, data = null) {
  const own = spec.encoding?.x ?? x;
  const rows = spec.data ?? data;
  if (!spec.layer) yield { unit: spec, x: own, data: rows };
  for (const inner of spec.layer ?? []) yield* units(inner, own, rows);
}
const isTemporal = (x) => x?.field && x.type === "temporal";

function span(spec) {
  if (!spec) return null;
  let told = null;
  let ends = null;
  for (const { x, data } of units(spec)) {
    if (!isTemporal(x)) continue;
    ends ??= x.scale?.domain?.length === 2 ? x.scale.domain.map(asDate) : null;
    const rows = spec.datasets?.[data?.name] ?? [];
    const facts = Object.keys(rows[0] ?? {}).length;
    if (rows.length > 1 && facts > (told?.facts ?? 0))
      told = { facts, dates: rows.map((row) => new Date(row[x.field])) };
  }
  if (!told || !ends) return null;
  const [first, last] = [Math.min, Math.max].map((end) => new Date(end(...told.dates)));
  return { first, last, start: ends[0], end: ends[1] };
}

// Months as the address has them, "2026-04", are in order as texts are.
const monthOf = (date) =>
  `${date.getFullYear()}-${String(date.getMonth() + 1).padStart(2, "0")}`;
const firstOf = (month) => new Date(Number(month.slice(0, 4)), Number(month.slice(5)) - 1, 1);
const after = (date) => new Date(date.getFullYear(), date.getMonth() + 1, 1);
function monthsBetween(first, last) {
  const found = [];
  for (let at = firstOf(monthOf(first)); at <= last; at = after(at)) found.push(monthOf(at));
  return found;
}

// The chart with only the months of a period; room at its sides in proportion.
function narrowed(spec, period) {
  const all = period ? span(spec) : null;
  if (!all || all.first > all.last) return spec;
  const [from, to] = [period.from || monthOf(all.first), period.to || monthOf(all.last)].map(firstOf);
  if (from <= all.first && to >= firstOf(monthOf(all.last))) return spec;
  if (from > all.last || to < all.first) return spec; // nothing of it lies in the period
  const last = to < all.last ? to : all.last;
  const share = Math.max(last - from, 1) / Math.max(all.last - all.first, 1);
  const start = from > all.first ? new Date(from - (all.first - all.start)) : all.start;
  const end = last < all.last ? new Date(+last + (all.end - all.last) * share) : all.end;
  const copy = structuredClone(spec);
  for (const { unit, x } of units(copy)) {
    if (!isTemporal(x)) continue;
    const ends = [{ field: x.field, gte: asSpec(from) }];
    if (last < all.last) ends.push({ field: x.field, lt: asSpec(after(last)) });
    unit.transform = [...(unit.transform ?? []), ...ends.map((filter) => ({ filter }))];
    if (x.scale?.domain?.length === 2) x.scale.domain = [start, end].map(asSpec);
    if (x.axis?.values)
      x.axis.values = x.axis.values.filter((value) => asDate(value) >= from && asDate(value) <= end);
  }
  return copy;
}

// ---- a period drawn over a chart ------------------------------------------------------------
// Not with a finger: it scrolls. The two lists of months do the same by keyboard.
const IS_TOUCHED = window.matchMedia("(pointer: coarse)").matches;

const isOfMonths = (spec) => Boolean(spec.params?.some(({ name }) => name === "pointed"));
function brushable({ spec, box }) {
  if (IS_TOUCHED || !list?.contains(box) || !isOfMonths(spec) || !span(spec)) return spec;
  const select = { type: "interval", encodings: ["x"], mark: { fillOpacity: 0.12, strokeOpacity: 0 } };
  return { ...spec, params: [...spec.params, { name: "period", select, views: ["months"] }] };
}

function listenToBrush(chart) {
  chart.brushed = null;
  try {
    chart.view.addSignalListener("period", (_, value) => (chart.brushed = value));
  } catch {
    return; // this chart has no such selection
  }
  chart.place.onpointerdown = () =>
    window.addEventListener("pointerup", () => setTimeout(() => takeBrush(chart)), { once: true });
}

function takeBrush(chart) {
  const [range] = Object.values(chart.brushed ?? {});
  if (!range) return;
  const [from, to] = range.map((end) => new Date(end)).sort((one, other) => one - other);
  const months = monthsOf(chart).filter((month) => firstOf(month) >= from && firstOf(month) <= to);
  if (months.length < 2) {
    chart.shown = undefined; // too narrow: the chart is drawn again without it
  } else {
    chosen.from = months[0];
    chosen.to = months.at(-1);
    applyChoice();
    writeAddress();
  }
  drawWhatIsSeen();
}
