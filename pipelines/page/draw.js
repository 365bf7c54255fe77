// What a page does once it is open: it draws its charts, opens what a link names, and lets the
// reader choose what is shown. Nothing is fetched, nothing moves by itself, and what the reader
// chose stands in the address after "#", so that a link to it can be mailed.

// ---- charts -------------------------------------------------------------------------------
// What cannot be read spoils its own chart alone.
function read(text) {
  try {
    return JSON.parse(text);
  } catch (error) {
    console.error(error);
    return null;
  }
}
// A chart beside its specification. One image to a reader of text: the description is its name.
const CHARTS = [...document.querySelectorAll(".chart")].map((box) => ({
  box,
  spec: read(box.querySelector("script").textContent),
  place: box.querySelector(".drawing"),
  months: undefined, // how many are drawn; null: as the specification has it
  view: null,
}));
const OPTIONS = { actions: false, renderer: "svg", tooltip: { theme: "page" } };

async function draw(chart, months) {
  const { box, place } = chart;
  box.style.minHeight = chart.view ? `${box.offsetHeight}px` : ""; // the page keeps its place
  box.removeAttribute("data-drawn");
  chart.months = months;
  try {
    if (!chart.spec) throw new Error("no specification");
    chart.view?.finalize();
    chart.view = await window.vegaEmbed(place, narrowed(chart.spec, months), OPTIONS);
    // The marks need no names of their own: the table behind the chart has the figures.
    place.setAttribute("role", "img");
    place.removeAttribute("aria-roledescription");
    place.querySelector("svg").setAttribute("aria-hidden", "true");
    box.setAttribute("data-drawn", "yes");
  } catch (error) {
    place.removeAttribute("role");
    place.textContent = "This chart could not be drawn; its figures are in the table below.";
    box.setAttribute("data-drawn", "failed");
    console.error(error);
  }
  box.style.minHeight = "";
}

// A chart that cannot be seen has no width to be drawn in: it waits until it is shown. One pass
// at a time, so that no chart is drawn twice at once.
let drawing = Promise.resolve();
function drawWhatIsSeen() {
  drawing = drawing.then(async () => {
    for (const chart of CHARTS) {
      const months = monthsFor(chart);
      if (chart.months === months) continue;
      if (chart.box.getClientRects().length) await draw(chart, months);
      else chart.box.setAttribute("data-drawn", "when shown");
    }
  });
  return drawing;
}

// ---- how much time is shown ---------------------------------------------------------------
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
  const months = 12 * (last.getFullYear() - first.getFullYear()) + last.getMonth() - first.getMonth();
  return { first, last, start: ends[0], months: months + 1 };
}

function narrowed(spec, months) {
  const all = months ? span(spec) : null;
  if (!all || months >= all.months) return spec;
  const from = new Date(all.last.getFullYear(), all.last.getMonth() - months + 1, 1);
  const start = new Date(from.getTime() - (all.first - all.start));
  const copy = structuredClone(spec);
  for (const { unit, x } of units(copy)) {
    if (!isTemporal(x)) continue;
    unit.transform = [...(unit.transform ?? []), { filter: { field: x.field, gte: asSpec(from) } }];
    if (x.scale?.domain && asDate(x.scale.domain[0]) < start) x.scale.domain[0] = asSpec(start);
    if (x.axis?.values) x.axis.values = x.axis.values.filter((value) => asDate(value) >= from);
  }
  return copy;
}

// ---- what the reader chose, and the address -----------------------------------------------
// #m-vitamin_k?months=12&contains=vaccine&group=protection&open=2
const chosen = { place: "", open: 0, months: 0, contains: "", group: "" };

function readAddress() {
  const [place, rest] = window.location.hash.slice(1).split("?", 2);
  const told = new URLSearchParams(rest);
  chosen.place = place;
  chosen.open = Number(told.get("open")) || 0;
  if (rest === undefined) return; // a link inside the page names a place and nothing else
  chosen.months = Number(told.get("months")) || 0;
  chosen.contains = told.get("contains") ?? "";
  chosen.group = told.get("group") ?? "";
}

function writeAddress() {
  const told = new URLSearchParams();
  for (const name of ["months", "contains", "group", "open"])
    if (chosen[name]) told.set(name, chosen[name]);
  const address = chosen.place + (told.size ? `?${told}` : "");
  if (address || window.location.hash) window.history.replaceState(null, "", `#${address}`);
}

// ---- places: headings with a name, and what can be opened under them -----------------------
const PLACES = [...document.querySelectorAll("main :is(h2,h3)[id]")];
const BLOCKS = [...document.querySelectorAll("main details")];
const isAfter = (one, other) =>
  Boolean(other.compareDocumentPosition(one) & Node.DOCUMENT_POSITION_FOLLOWING);
const placeOf = (block) => PLACES.filter((place) => isAfter(block, place)).at(-1);
const blocksOf = (place) => BLOCKS.filter((block) => placeOf(block) === place);
let isSettled = true; // false: the reader has not moved since a place was shown

function show(place) {
  for (let block = place.closest("details"); block; block = block.parentElement.closest("details"))
    block.open = true;
  const panel = place.closest(".panel");
  if (panel?.hidden) {
    chosen.contains = chosen.group = "";
    applyChoice();
  }
  const blocks = blocksOf(place);
  const block = chosen.open ? blocks[chosen.open - 1] : panel && blocks[0];
  if (block) block.open = true;
  place.tabIndex = -1; // so that Tab goes on from here
  place.focus({ preventScroll: true });
  place.scrollIntoView();
  isSettled = false;
}

function visit() {
  readAddress();
  const place = document.getElementById(chosen.place);
  applyChoice();
  if (place) show(place);
  writeAddress();
  return drawWhatIsSeen();
}

function opened(block) {
  drawWhatIsSeen();
  const place = placeOf(block);
  if (!block.open || !place) return;
  const number = blocksOf(place).indexOf(block) + 1;
  chosen.place = place.id;
  chosen.open = place.closest(".panel") && number === 1 ? 0 : number;
  writeAddress();
}

// ---- the form above the panels ------------------------------------------------------------
const MANY = 6; // fewer panels need no choice
const SPANS = [12, 24, 36];
const list = [...document.querySelectorAll(".panels")].find(
  (one) => one.querySelectorAll(":scope>.panel>h3[id]").length >= MANY);
const panels = list ? [...list.querySelectorAll(":scope>.panel")] : [];
const ofList = CHARTS.filter((chart) => list?.contains(chart.box));
const longest = Math.max(0, ...ofList.map((chart) => span(chart.spec)?.months ?? 0));
const monthsFor = (chart) => (chosen.months && ofList.includes(chart) ? chosen.months : null);
const form = list ? makeForm() : null;

function made(tag, facts = {}, ...inside) {
  const one = Object.assign(document.createElement(tag), facts);
  one.append(...inside);
  return one;
}

function choice(name, words, options) {
  const select = made("select", { name });
  for (const [value, text] of options) select.append(made("option", { value }, text));
  return made("label", {}, `${words} `, select);
}

function makeForm() {
  const inside = [
    made("label", {}, "Show measures that contain ",
      made("input", { type: "search", name: "contains", autocomplete: "off" })),
  ];
  const names = panels.map((panel) => panel.querySelector("h3").dataset.group);
  const groups = [...new Set(names.filter(Boolean))];
  if (groups.length > 1)
    inside.push(choice("group", "Group", [["", "all"], ...groups.map((one) => [one, one])]));
  const spans = SPANS.filter((months) => months < longest);
  if (spans.length)
    inside.push(choice("months", "Time shown", [
      ["", `all ${longest} months`], ...spans.map((months) => [months, `last ${months} months`])]));
  inside.push(made("output", { name: "told" }));
  const one = made("form", { className: "choose" }, ...inside);
  one.setAttribute("aria-label", "What is shown below");
  one.addEventListener("submit", (event) => event.preventDefault());
  one.addEventListener("input", () => {
    chosen.contains = one.elements.contains.value.trim();
    chosen.group = one.elements.group?.value ?? "";
    chosen.months = Number(one.elements.months?.value) || 0;
    applyChoice();
    writeAddress();
    drawWhatIsSeen();
  });
  list.before(one);
  return one;
}

function applyChoice() {
  if (!form) return;
  const { contains, group, months, told } = form.elements;
  if (contains.value.trim() !== chosen.contains) contains.value = chosen.contains;
  if (group) group.value = chosen.group;
  if (months) months.value = chosen.months || "";
  // What the page does not offer is not chosen.
  if (!group?.value) chosen.group = "";
  if (!months?.value) chosen.months = 0;
  const wanted = chosen.contains.toLowerCase();
  for (const panel of panels) {
    const head = panel.querySelector("h3");
    const fits = head.textContent.toLowerCase().includes(wanted);
    panel.hidden = !fits || Boolean(chosen.group && head.dataset.group !== chosen.group);
  }
  if (months && months.selectedIndex < 0) months.value = "";
  if (group && group.selectedIndex < 0) group.value = "";
  const shown = panels.filter((panel) => !panel.hidden).length;
  list.classList.toggle("picked", Boolean(chosen.contains || chosen.group));
  told.value = `${shown} of ${panels.length} measures shown`;
}

// ---- begin --------------------------------------------------------------------------------
for (const sign of ["wheel", "touchstart", "pointerdown", "keydown"])
  window.addEventListener(sign, () => (isSettled = true), { passive: true });
document.addEventListener("click", (event) => {
  if (event.ctrlKey || event.metaKey || event.shiftKey) return;
  const link = event.target.closest('a[href^="#"]');
  const summary = event.target.closest("summary");
  // After the browser has done its own part. A second click on one link changes no address.
  if (link) setTimeout(visit);
  if (summary) setTimeout(() => opened(summary.parentElement));
});
window.addEventListener("hashchange", visit);
visit().then(() => {
  // Drawing moved what stands above; the reader who has not moved is brought back.
  const place = document.getElementById(chosen.place);
  if (place && !isSettled) place.scrollIntoView();
});
