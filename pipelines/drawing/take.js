// Taking a chart along: its picture to the clipboard, as a PNG, its values as CSV. Made in the
// page, of what is shown; nothing is fetched and nothing leaves the browser but to the reader.

const PICTURE = { scale: 2, edge: 14, line: 17, letter: 6.3, font: 12 };

function waysToTake(chart) {
  const told = made("output", { className: "took" });
  const choices = made("span", { hidden: true });
  const ways = { "Copy picture": copyPicture, PNG: savePicture, CSV: saveTable };
  for (const [words, way] of Object.entries(ways)) {
    const one = made("button", { type: "button" }, words);
    one.addEventListener("click", async () => (told.textContent = await way(chart)));
    choices.append(one);
  }
  const opener = made("button", { type: "button" }, "Copy or save");
  opener.setAttribute("aria-label", `Copy or save: ${headingOf(chart.box)}`);
  opener.setAttribute("aria-expanded", "false");
  opener.addEventListener("click", () => {
    choices.hidden = !choices.hidden;
    opener.setAttribute("aria-expanded", String(!choices.hidden));
  });
  return made("span", { className: "ways" }, opener, choices, told);
}

// A text that can be copied; where no page may write to the clipboard, it is chosen instead.
for (const button of document.querySelectorAll("button[data-copies]"))
  button.addEventListener("click", async () => {
    const text = document.getElementById(button.dataset.copies);
    window.getSelection().selectAllChildren(text);
    let told = "Copied.";
    try {
      await navigator.clipboard.writeText(text.textContent);
    } catch (error) {
      console.info(error);
      told = "The text is chosen: copy it with Ctrl+C.";
    }
    button.nextElementSibling.textContent = told;
  });

// ---- the picture ------------------------------------------------------------------------------
const escaped = (text) => text.replace(/[&<>"]/g, (one) => `&#${one.charCodeAt(0)};`);

function wrapped(text, letters) {
  const lines = [""];
  for (const word of text.split(/\s+/))
    if (lines.at(-1).length + word.length < letters) lines.push(`${lines.pop()} ${word}`.trim());
    else lines.push(word);
  return lines.filter(Boolean);
}

// What is said around a chart on its page goes with it: heading, finding, unit, month, kind.
function wordsAround({ box }) {
  const finding = box.closest(".panel")?.querySelector(".finding")?.textContent ?? "";
  const kind = document.querySelector(".head .kind")?.textContent ?? "";
  return { head: headingOf(box), lines: [finding, `${document.title}. ${kind}`] };
}

// The drawing in the light palette with the hatching for what is unknown, as text of an SVG.
function pictureOf(chart) {
  const { edge, line, letter, font } = PICTURE;
  const drawn = chart.place.querySelector("svg").cloneNode(true);
  const [, , wide, high] = drawn.getAttribute("viewBox").split(" ").map(Number);
  const { head, lines } = wordsAround(chart);
  const letters = Math.floor(wide / letter);
  const told = [...wrapped(head, letters).map((words) => [words, LIGHT.ink, 600]),
    ...lines.flatMap((one) => wrapped(one, letters)).map((words) => [words, LIGHT.quiet, 400])];
  const top = edge + told.length * line + 6;
  Object.entries({ x: edge, y: top, width: wide, height: high })
    .forEach(([name, value]) => drawn.setAttribute(name, value));
  for (const one of drawn.querySelectorAll(`[fill="${LIGHT.unknown}"]`))
    one.setAttribute("fill", "url(#hatch)");
  const texts = told.map(([words, colour, weight], at) =>
    `<text x="${edge}" y="${edge + (at + 0.75) * line}" fill="${colour}" font-weight="${weight}">` +
    `${escaped(words)}</text>`);
  const size = { width: wide + 2 * edge, height: top + high + edge };
  const hatch = `<defs><pattern id="hatch" width="4" height="4" patternUnits="userSpaceOnUse" ` +
    `patternTransform="rotate(45)"><rect width="4" height="4" fill="${LIGHT.paper}"/>` +
    `<rect width="2" height="4" fill="${LIGHT.unknown}"/></pattern></defs>`;
  const text = `<svg xmlns="http://www.w3.org/2000/svg" width="${size.width}" ` +
    `height="${size.height}"><rect width="100%" height="100%" fill="${LIGHT.paper}"/>${hatch}` +
    `<g font-family="${escaped(FONTS)}" font-size="${font}">${texts.join("")}</g>` +
    `${new XMLSerializer().serializeToString(drawn)}</svg>`;
  return { text, ...size };
}

async function pngOf(chart) {
  const { text, width, height } = pictureOf(chart);
  const image = new Image();
  image.src = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(text)}`;
  await image.decode();
  const canvas = made("canvas", { width: width * PICTURE.scale, height: height * PICTURE.scale });
  const pen = canvas.getContext("2d");
  pen.scale(PICTURE.scale, PICTURE.scale);
  pen.drawImage(image, 0, 0, width, height);
  return new Promise((go) => canvas.toBlob(go, "image/png"));
}

async function copyPicture(chart) {
  try {
    const item = new ClipboardItem({ "image/png": pngOf(chart) });
    await navigator.clipboard.write([item]);
    return "Picture copied.";
  } catch (error) {
    console.info(error);
    return "This browser lets no page copy a picture: PNG saves it as a file.";
  }
}

// ---- the table ----------------------------------------------------------------------------------
const bare = (number) => number.replace(/[\s\u00a0\u202f]/g, "").replace("\u2212", "-");
const NUMBER = "([\\u2212-]?[\\d\\s\\u00a0\\u202f]*\\d(?:\\.\\d+)?)";
// Cells of which every one has this form become numbers, under these names.
const FORMS = [
  [new RegExp(`^${NUMBER} of ${NUMBER}$`), ["n", "N"]],
  [new RegExp(`^${NUMBER}[\\s\\u00a0\\u202f]%$`), ["*, percent"]],
  [new RegExp(`^${NUMBER} to ${NUMBER}[\\s\\u00a0\\u202f]%$`), ["* from, percent", "* to, percent"]],
  [new RegExp(`^${NUMBER}$`), ["*"]],
];
const isNothing = (cell) => /^[\s\u2013\u2014-]*$/.test(cell);

function columnsOf(name, cells) {
  const form = FORMS.find(([like]) => cells.every((cell) => isNothing(cell) || like.test(cell)));
  if (!form || cells.every(isNothing)) return [[name, ...cells]];
  const [like, names] = form;
  return names.map((one, at) => [one.replace("*", name).replace("Percent, percent", "Percent"),
    ...cells.map((cell) => bare(like.exec(cell)?.[at + 1] ?? ""))]);
}

// A cell that a spreadsheet would take for a formula is marked as text.
function csvCell(text) {
  const inert = /^[=+@\t\r]|^-(?![\d.]+$)/.test(text) ? `'${text}` : text;
  return /[",\r\n]/.test(inert) ? `"${inert.replaceAll('"', '""')}"` : inert;
}

function tableOf(chart) {
  const rows = stopsOf(chart).map((one) => Object.fromEntries(one.facts));
  const names = [...new Set(rows.flatMap(Object.keys))];
  const context = [["Unit", document.title.split(":")[0]], ["Measure", headingOf(chart.box)]]
    .map(([name, value]) => [name, ...rows.map(() => value)]);
  const columns = [...context,
    ...names.flatMap((name) => columnsOf(name, rows.map((row) => row[name] ?? "")))];
  return [...Array(rows.length + 1).keys()]
    .map((at) => columns.map((one) => csvCell(one[at])).join(",")).join("\r\n");
}

// ---- files ----------------------------------------------------------------------------------------
const slug = (text) =>
  text.toLowerCase().replace(/[^\p{L}\p{N}]+/gu, "_").replace(/^_|_$/g, "").slice(0, 60);

// The month of the page, else the last month of the chart: "2026-04".
function monthIn(text) {
  const [, name, year] = [...text.matchAll(/\b([A-Z][a-z]{2})[a-z]* (\d{2}(?:\d{2})?)\b/g)].at(-1) ?? [];
  const date = new Date(`1 ${name} ${year?.length === 2 ? `20${year}` : year}`);
  return Number.isNaN(+date) ? "" : monthOf(date);
}

function fileName(chart, ending) {
  const measure = chart.box.closest(".panel")?.querySelector("h3")?.id.replace(/^m-/, "");
  const when = document.querySelector("h1 .when")?.textContent ?? "";
  const month = monthIn(when) || monthIn(stopsOf(chart).at(-1)?.facts[0]?.[1] ?? "");
  const same = CHARTS.filter(({ box }) => headingOf(box) === headingOf(chart.box));
  const number = same.length > 1 ? String(same.indexOf(chart) + 1) : "";
  const parts = [document.title.split(":")[0], measure || headingOf(chart.box), number];
  return `${[...parts.map(slug), month].filter(Boolean).join("_")}.${ending}`;
}

function save(blob, name) {
  const link = made("a", { href: URL.createObjectURL(blob), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
  return `Saved as ${name}.`;
}
const savePicture = async (chart) => save(await pngOf(chart), fileName(chart, "png"));
const saveTable = (chart) =>
  // The mark at the front tells a spreadsheet that the text is UTF-8.
  save(new Blob(["\ufeff", tableOf(chart), "\r\n"], { type: "text/csv" }), fileName(chart, "csv"));
