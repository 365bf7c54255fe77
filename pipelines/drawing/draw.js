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
  shown: undefined, // what of it is drawn, in one text: the period and the group beside it
  view: null,
}));
const OPTIONS = { actions: false, renderer: "svg", tooltip: () => {} }; // values.js says values

async function draw(chart, shown) {
  const { box, place } = chart;
  box.style.minHeight = chart.view ? `${box.offsetHeight}px` : ""; // the page keeps its place
  chart.shown = shown;
  try {
    if (!chart.spec) throw new Error("no specification");
    forget(chart);
    chart.view?.finalize();
    const group = besideOf(chart);
    const spec = narrowed(withGroup(brushable(chart), group), periodOf(chart));
    const result = await window.vegaEmbed(place, spec, OPTIONS);
    chart.view = result.view;
    listenToBrush(chart);
    makeReadable(chart);
    if (chosen.axis) setAxis(chart, true);
    tellGroup(chart, group);
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
}

// Before each chart the browser gets its turn: to paint, to take a click, to scroll.
const breath = () => new Promise((go) => setTimeout(go));

// A chart that cannot be seen has no width to be drawn in: it waits until it is shown. One pass
// at a time, so that no chart is drawn twice at once.
let drawing = Promise.resolve();
const isSeen = (box) => box.getClientRects().length > 0;
const wanted = (chart) => JSON.stringify([periodOf(chart), besideOf(chart)?.key]);
function drawWhatIsSeen() {
  // What is to be drawn anew says so at once, though its turn comes later.
  for (const chart of CHARTS.filter((one) => one.shown !== wanted(one))) {
    if (chart.view) chart.box.style.minHeight = "0"; // no room is kept for what is there
    chart.box.removeAttribute("data-drawn");
  }
  drawing = drawing.then(async () => {
    for (const chart of CHARTS) {
      const { box } = chart;
      if (chart.shown !== wanted(chart) && isSeen(box)) await breath();
      const shown = wanted(chart); // the reader may have chosen again meanwhile
      if (chart.shown === shown) box.dataset.drawn ??= chart.view ? "yes" : "failed";
      else if (isSeen(box)) await draw(chart, shown);
      else box.setAttribute("data-drawn", "when shown");
      box.style.minHeight = "";
    }
  });
  return drawing;
}

// ---- another group of newborns beside the months --------------------------------------------
const besides = document.getElementById("other-groups");
const BESIDE = besides ? read(besides.textContent) : null;

function besideOf(chart) {
  const id = chart.box.closest(".panel")?.querySelector("h3")?.id.replace(/^m-/, "");
  const rows = chosen.beside && BESIDE?.measures[id]?.[chosen.beside];
  if (!rows) return null;
  const [key, split, name] = BESIDE.groups.find(([one]) => one === chosen.beside);
  const [, ...names] = BESIDE.columns;
  const told = rows.map(([place, percent, isSmall, ...cells]) => {
    const [month, quarter] = BESIDE.quarters[place];
    const facts = { Group: name, month, percent, isSmall, [BESIDE.columns[0]]: quarter };
    names.forEach((column, at) => (facts[column] = cells[at]));
    return facts;
  });
  return { key, name: `${split}: ${name}`, rows: told };
}

function withGroup(spec, group) {
  if (!group || !isOfMonths(spec)) return spec;
  const copy = structuredClone(spec);
  copy.layer.push({ ...structuredClone(BESIDE.layer), data: { values: group.rows } });
  const last = group.rows.at(-1);
  copy.description += ` Beside it, by quarter, ${group.name}: last ${last["n of N"]}, ${last.Percent}.`;
  return copy;
}

// The figures of the group under its chart.
function tellGroup({ box }, group) {
  if (box.nextElementSibling?.classList.contains("beside")) box.nextElementSibling.remove();
  if (!group) return;
  const head = BESIDE.columns.map((name, at) =>
    made("th", { scope: "col", className: at ? "number" : "" }, name));
  const lines = group.rows.map((row) => made("tr", {}, ...BESIDE.columns.map((name, at) =>
    at ? made("td", { className: "number" }, row[name]) : made("th", { scope: "row" }, row[name]))));
  const table = made("table", { className: "months" }, made("caption", {}, `${group.name}, by quarter`),
    made("thead", {}, made("tr", {}, ...head)), made("tbody", {}, ...lines.reverse()));
  const words = `${group.name}, in figures`;
  box.after(made("details", { className: "beside" }, made("summary", {}, words), table));
}

// ---- what the reader chose, and the address -----------------------------------------------
// #m-vitamin_k?from=2025-05&to=2026-04&beside=shift:night&contains=vaccine&group=protection&axis=whole&open=2
const chosen = {
  place: "", open: 0, axis: "", all: "", from: "", to: "", beside: "", contains: "", group: "",
};
const CHOICES = ["from", "to", "beside", "contains", "group"];

function readAddress() {
  const [place, rest] = window.location.hash.slice(1).split("?", 2);
  const told = new URLSearchParams(rest);
  chosen.place = place;
  chosen.open = Number(told.get("open")) || 0;
  if (rest === undefined) return; // a link inside the page names a place and nothing else
  for (const name of CHOICES) chosen[name] = told.get(name) ?? "";
  chosen.axis = axes && told.get("axis") === "whole" ? "whole" : "";
  chosen.all = told.get("all") ? "yes" : "";
}

function writeAddress() {
  const told = new URLSearchParams();
  for (const name of [...CHOICES, "axis", "all", "open"])
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
    asked.add(panel);
    applyChoice();
  }
  const blocks = blocksOf(place);
  const isFold = blocks[0]?.classList.contains("folded"); // the section is what the link is about
  const block = chosen.open ? blocks[chosen.open - 1] : (panel || isFold) && blocks[0];
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
  applyAxis();
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
// The panel of a measure that needs nothing and did not move waits until someone asks, and so do
// those beyond the most pressing few.
const isAtRest = (panel) => panel.querySelector("h3").dataset.rest === "yes";
const asked = new Set(); // panels at rest to which a link led

const list = [...document.querySelectorAll(".panels")].find(
  (one) => one.querySelectorAll(":scope>.panel>h3[id]").length >= MANY);
const panels = list ? [...list.querySelectorAll(":scope>.panel")] : [];
const ofList = CHARTS.filter((chart) => list?.contains(chart.box));
const monthsOf = ({ spec }) => {
  const all = span(spec);
  return all ? monthsBetween(all.first, all.last) : [];
};
const MONTHS = [...new Set(ofList.flatMap(monthsOf))].sort();
const periodOf = (chart) =>
  (chosen.from || chosen.to) && ofList.includes(chart) ? { from: chosen.from, to: chosen.to } : null;
const form = list ? makeForm() : null;
const axes = makeAxes();
if (form) makeFind();

function made(tag, facts = {}, ...inside) {
  const one = Object.assign(document.createElement(tag), facts);
  one.append(...inside);
  return one;
}

// Options are [value, text], or { title, options } for some that stand together.
function option(one) {
  if (Array.isArray(one)) return made("option", { value: one[0] }, one[1]);
  return made("optgroup", { label: one.title }, ...one.options.map(option));
}

function choice(name, words, options) {
  return made("label", {}, `${words} `, made("select", { name }, ...options.map(option)));
}

function monthChoices() {
  const named = MONTHS.map((month) => [month,
    firstOf(month).toLocaleDateString("en-GB", { month: "short", year: "numeric" })]);
  if (named.length < 3) return [];
  return [
    choice("from", "Shown from", [["", `the first, ${named[0][1]}`], ...named.slice(1, -1)]),
    choice("to", "to", [["", `the last, ${named.at(-1)[1]}`], ...named.slice(1, -1).reverse()]),
  ];
}

function besideChoice() {
  const splits = new Map();
  for (const [key, split, name] of BESIDE?.groups ?? [])
    splits.set(split, [...(splits.get(split) ?? []), [key, name]]);
  if (!splits.size) return [];
  const groups = [...splits].map(([title, options]) => ({ title, options }));
  return [choice("beside", "Beside it", [["", "nothing"], ...groups])];
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
  inside.push(...monthChoices(), ...besideChoice());
  inside.push(made("button", { type: "reset", hidden: true }, "Clear what was chosen"));
  if (panels.some(isAtRest)) {
    const all = made("button", { type: "button", name: "all" });
    all.addEventListener("click", () => {
      chosen.all = chosen.all ? "" : "yes";
      asked.clear();
      applyChoice();
      writeAddress();
      drawWhatIsSeen();
    });
    inside.push(all);
  }
  inside.push(made("output", { name: "told" }));
  inside.push(made("p", { className: "beside-words", hidden: true }, BESIDE?.words ?? ""));
  const one = made("form", { className: "choose" }, ...inside);
  one.setAttribute("aria-label", "What is shown below");
  one.addEventListener("submit", (event) => event.preventDefault());
  const take = (event) => {
    for (const name of CHOICES) chosen[name] = one.elements[name]?.value.trim() ?? "";
    // The end that was set stays; the other gives way.
    if (chosen.from && chosen.to && chosen.from >= chosen.to)
      chosen[event?.target.name === "to" ? "from" : "to"] = "";
    applyChoice();
    writeAddress();
    drawWhatIsSeen();
  };
  one.addEventListener("input", take);
  one.addEventListener("reset", () => setTimeout(() => {
    take(); // once the fields are empty
    one.elements.contains.focus(); // the button is gone
  }));
  list.before(one);
  return one;
}

// Find a measure by its name or another word for it, from anywhere on the page: the menu goes along.
function makeFind() {
  const menu = document.querySelector("nav.here");
  if (!menu) return;
  const field = made("input", { type: "search", name: "find", autocomplete: "off" });
  const find = made("form", { className: "find" }, made("label", {}, "Find a measure ", field));
  find.setAttribute("role", "search");
  find.addEventListener("submit", (event) => {
    event.preventDefault();
    chosen.contains = field.value.trim();
    chosen.group = "";
    chosen.place = placeOf(list)?.id ?? "";
    applyChoice();
    writeAddress();
    drawWhatIsSeen();
    form.scrollIntoView();
    form.elements.contains.focus({ preventScroll: true });
  });
  menu.append(find);
}

// The button that shows those at rest as well, and puts them away again.
function tellAll(isPicked) {
  const { all } = form.elements;
  if (!all) return;
  const resting = panels.filter(isAtRest).length;
  all.hidden = isPicked || !resting;
  all.setAttribute("aria-expanded", String(Boolean(chosen.all)));
  // What stays off paper is at rest; the others that wait have something to say.
  const speaking = panels.filter((one) =>
    isAtRest(one) && one.querySelector("h3").dataset.paper !== "off").length;
  const others = `${resting - speaking} that need nothing and did not move`;
  all.textContent = chosen.all
    ? "Only the most pressing"
    : speaking ? `Show ${speaking} more that moved or need a look, and ${others}`
    : `Show the ${others}`;
}

function applyChoice() {
  if (!form) return;
  const { contains, told } = form.elements;
  // A period of which nothing is left is none.
  if (chosen.from && chosen.to && chosen.from >= chosen.to) chosen.from = chosen.to = "";
  if (contains.value.trim() !== chosen.contains) contains.value = chosen.contains;
  for (const name of CHOICES.filter((one) => one !== "contains")) {
    const field = form.elements[name];
    if (field) field.value = chosen[name];
    if (field && field.selectedIndex < 0) field.value = "";
    chosen[name] = field?.value ?? ""; // what the page does not offer is not chosen
  }
  const wanted = chosen.contains.toLowerCase();
  const isPicked = Boolean(chosen.contains || chosen.group);
  for (const panel of panels) {
    const head = panel.querySelector("h3");
    const also = panel.querySelector(".also")?.textContent ?? "";
    const fits = `${head.textContent} ${also}`.toLowerCase().includes(wanted);
    const waits = isAtRest(panel) && !isPicked && !chosen.all && !asked.has(panel);
    panel.hidden = waits || !fits || Boolean(chosen.group && head.dataset.group !== chosen.group);
  }
  const shown = panels.filter((panel) => !panel.hidden).length;
  list.classList.toggle("picked", isPicked);
  told.value = `${shown} of ${panels.length} measures shown`;
  tellAll(isPicked);
  form.querySelector("[type=reset]").hidden = !CHOICES.some((name) => chosen[name]);
  form.querySelector(".beside-words").hidden = !chosen.beside;
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
