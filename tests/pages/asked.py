"""What a visit of a page asks in the browser: scripts, each of which gives what it is named for."""

CHARTS = """
const charts = [...document.querySelectorAll('.chart')];
const count = (box, kind) => box.querySelectorAll(`svg.marks .mark-${kind} path`).length;
return charts.map((box) => {
    const image = box.querySelector('.drawing');
    return {
        drawn: box.dataset.drawn ?? null, has_svg: Boolean(box.querySelector('svg.marks')),
        symbols: count(box, 'symbol'), rects: count(box, 'rect'),
        role: image.getAttribute('role'), label: image.getAttribute('aria-label'),
        hidden: image.querySelector('svg')?.getAttribute('aria-hidden') ?? null,
    };
});
"""
# What stands outside the window; a table that may be scrolled, and what only a reader aloud gets,
# may.
WHOLE = """
const outside = [...document.querySelectorAll(
    'h1,h2,h3,p,td,th,dd,summary,label,select,input,svg.marks,svg.marks text')]
    .filter((one) => !one.closest('.scroll,.unseen') && one.getClientRects().length)
    .filter((one) => {
        const box = one.getBoundingClientRect();
        return box.right > window.innerWidth + 1 || box.left < -1;
    })
    .filter((one) => getComputedStyle(one.closest('thead') || one).position !== 'absolute')
    .map((one) => one.tagName + ' ' + one.textContent.slice(0, 40));
return [document.documentElement.scrollWidth - window.innerWidth, outside];
"""
TABLES = """
const tables = [...document.querySelectorAll('main table')];
const named = (table) => table.caption?.textContent.trim() || table.ariaLabel;
const headers = [...document.querySelectorAll('main table th:not([scope])')];
return [tables.filter((table) => !named(table)).map((one) => one.outerHTML.slice(0, 200)),
    headers.map((one) => one.outerHTML), tables.length];
"""
# Relative luminance and contrast: WCAG 2.2, definitions; 4.5:1 for text, criterion 1.4.3.
CHART_TEXT = """
const linear = (part) => part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
const light = (colour) => {
    const [r, g, b] = colour.match(/[\\d.]+/g).map((part) => linear(part / 255));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const paper = getComputedStyle(document.body).backgroundColor;
return [...document.querySelectorAll('svg.marks text')]
    .filter((text) => text.textContent && getComputedStyle(text).fill !== paper)
    .map((text) => {
        const style = getComputedStyle(text);
        const [low, high] = [light(style.fill), light(paper)].sort((a, b) => a - b);
        return [(high + 0.05) / (low + 0.05), Number(style.opacity), text.textContent];
    });
"""
COLOURS = """
const dot = document.querySelector('.chart .mark-symbol path');
return [getComputedStyle(document.body).backgroundColor, dot && getComputedStyle(dot).stroke];
"""
ON_PAPER = """
const root = document.documentElement;
const outside = [...document.querySelectorAll('h1,h2,h3,p,td,th,dd,li,svg.marks')]
    .filter((one) => one.getClientRects().length && !one.closest('.unseen'))
    .filter((one) => one.getBoundingClientRect().right > root.clientWidth + 1);
return [root.scrollWidth - root.clientWidth,
    outside.map((one) => one.tagName + ' ' + one.textContent.slice(0, 40))];
"""
# Texts of one picture that touch, or that leave it; a text drawn twice is its halo.
CROWDED = """
const found = [];
for (const svg of document.querySelectorAll('.chart svg')) {
  const box = svg.getBoundingClientRect();
  const texts = [...svg.querySelectorAll('text')]
    .map((one) => ({ words: one.textContent.trim(), at: one.getBoundingClientRect() }))
    .filter((one) => one.words && one.at.width);
  for (const [place, { words, at }] of texts.entries()) {
    if (at.left < box.left - 1 || at.right > box.right + 1) found.push([words, 'leaves']);
    for (const other of texts.slice(place + 1)) {
      const wide = Math.min(at.right, other.at.right) - Math.max(at.left, other.at.left);
      const high = Math.min(at.bottom, other.at.bottom) - Math.max(at.top, other.at.top);
      if (wide > 2 && high > 4 && words !== other.words) found.push([words, other.words]);
    }
  }
}
return found;
"""
# Each chart is read to its end by its own keys; what the box beside its mark then says is told.
READ_ALL = """
const press = (one, key) =>
  one.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true }));
const drawn = [...document.querySelectorAll('.chart[data-drawn=yes]')];
return drawn.slice(arguments[0], arguments[1]).map((chart) => {
  const reach = chart.querySelector('.reach');
  const told = [];
  press(reach, 'Home');
  for (let turn = 0; turn < 500; turn++) {
    const tip = reach.querySelector('.tip');
    if (!tip) break;
    const facts = [...tip.querySelectorAll('div')].map((one) =>
      [one.querySelector('dt').textContent, one.querySelector('dd').textContent]);
    if (JSON.stringify(facts) === JSON.stringify(told.at(-1)?.[0])) break;
    told.push([facts, chart.querySelector('.said').textContent]);
    press(reach, 'ArrowRight');
  }
  press(reach, 'Escape');
  return [chart.closest('.panel')?.querySelector('h3')?.id ?? '', told];
});
"""
MONTHS = """
const found = {};
for (const table of document.querySelectorAll('.panel table.months')) {
  const panel = table.closest('.panel').querySelector('h3').id;
  const names = [...table.querySelectorAll('thead th')].map((one) => one.textContent);
  if (names[0] === 'Month') found[panel] ??= [...table.querySelectorAll('tbody tr')].map((row) =>
    Object.fromEntries([...row.children].map((cell, at) => [names[at], cell.textContent])));
}
return found;
"""
# Whether a chart has an axis of percentages, and the words that stand in it.
SWITCHED = """
return [...document.querySelectorAll('.chart[data-drawn=yes]')].map((chart) => {
  const texts = [...chart.querySelectorAll('text')].filter((one) => {
    for (let at = one; at.tagName !== 'svg'; at = at.parentElement)
      if (at.getAttribute('opacity') === '0') return false;
    return true;
  }).map((one) => one.textContent).sort();
  const spec = JSON.parse(chart.querySelector('script').textContent);
  return [Boolean(spec.params?.some((one) => one.name === 'whole')), texts];
});
"""
AXES = "[...document.querySelectorAll('.axes button')]"
# Words of the page that lie on other words, and words that their own box cuts off. What stays in
# place while the page moves lies over it by design; heads of tables are only read aloud where it
# is narrow; what is scrolled out of sight lies on nothing.
LAID = """
const isOver = (one) => ['fixed', 'sticky', 'absolute'].includes(getComputedStyle(one).position);
const over = new Set([...document.querySelectorAll('nav, thead, thead th')].filter(isOver));
const isApart = (one) => one.closest('svg, .unseen, .tip, script, style, .chart, option')
  || [...over].some((top) => top.contains(one));
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
const boxes = [], cut = [];
for (let node; (node = walker.nextNode()); ) {
  const words = node.textContent.trim();
  const around = node.parentElement;
  if (!words || !around.checkVisibility() || isApart(around)) continue;
  const range = document.createRange();
  range.selectNodeContents(node);
  const seen = around.closest('.scroll')?.getBoundingClientRect();
  for (const { left, right, top, bottom } of range.getClientRects()) {
    const at = { left: Math.max(left, seen?.left ?? left),
      right: Math.min(right, seen?.right ?? right),
      top: Math.max(top, seen?.top ?? top), bottom: Math.min(bottom, seen?.bottom ?? bottom) };
    if (at.right - at.left > 1 && at.bottom - at.top > 1)
      boxes.push({ node, words: words.slice(0, 40), at });
  }
}
boxes.sort((one, other) => one.at.top - other.at.top);
const touching = [];
for (const [place, one] of boxes.entries())
  for (let next = place + 1; next < boxes.length; next++) {
    const other = boxes[next];
    if (other.at.top > one.at.bottom - 4) break;
    const wide = Math.min(one.at.right, other.at.right) - Math.max(one.at.left, other.at.left);
    const high = Math.min(one.at.bottom, other.at.bottom) - other.at.top;
    if (wide > 2 && high > 4 && one.node !== other.node) touching.push([one.words, other.words]);
  }
for (const one of new Set(boxes.map((box) => box.node.parentElement))) {
  for (let at = one; at && at !== document.body; at = at.parentElement) {
    const style = getComputedStyle(at);
    const hides = ['hidden', 'clip'];
    if ((hides.includes(style.overflowX) && at.scrollWidth > at.clientWidth + 1)
        || (hides.includes(style.overflowY) && at.scrollHeight > at.clientHeight + 1))
      cut.push(at.tagName + ' ' + at.textContent.trim().slice(0, 40));
  }
}
return [touching, [...new Set(cut)]];
"""
AXE = """
const [only, done] = arguments;
axe.run(document, {runOnly: only, resultTypes: ['violations']})
    .then((found) => done([found.passes.length, found.violations.map((one) => [
        one.id, one.help, one.nodes.length, one.nodes.slice(0, 3).map((node) => node.html)])]))
    .catch((error) => done(String(error)));
"""


# What a reader aloud is not given (the drawings: their words are judged by CHART_TEXT), and rows of
# a table that differ from an earlier one of it in their words alone: no rule can tell them apart,
# and axe-core goes through every element many times.
FEWER = """
document.querySelectorAll('svg[aria-hidden=true]').forEach((one) => one.replaceChildren());
const bare = (row) => row.outerHTML.replace(/(id|href|for|aria-labelledby)="[^"]*"/g, '')
  .replace(/>[^<]+</g, (words) => words.trim() === '><' ? '><' : '>x<');
for (const body of document.querySelectorAll('tbody')) {
  const seen = new Set();
  for (const row of [...body.rows]) {
    const kind = bare(row);
    if (seen.has(kind)) row.remove();
    seen.add(kind);
  }
}
"""
# Rules of axe-core that look at colours, and those that look at where things lie as well.
OF_COLOURS = ("color-contrast", "link-in-text-block")
OF_WIDTH = (*OF_COLOURS, "target-size", "scrollable-region-focusable", "bypass", "region")
