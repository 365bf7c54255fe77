"""How the words of a page's charts lie: on no other words, no signal, no line, inside the chart.

``FAULTS`` is asked in the browser, of every chart that is drawn; it gives one line per fault. A
text with paper behind its letters is drawn twice, and a line beneath it is interrupted there.
"""

FAULTS = """
const found = [];
const boxed = (one) => one.getBoundingClientRect();
const both = (one, other, wide, high) =>
  Math.min(one.right, other.right) - Math.max(one.left, other.left) > wide &&
  Math.min(one.bottom, other.bottom) - Math.max(one.top, other.top) > high;
const isSeen = (one) => {
  for (let at = one; at && at.tagName !== 'svg'; at = at.parentElement)
    if (['opacity', 'stroke-opacity'].some((name) => at.getAttribute(name) === '0')) return false;
  return true;
};
const SIGNALS = arguments[0]; // the fills of signals
for (const chart of document.querySelectorAll('.chart[data-drawn=yes]')) {
  const svg = chart.querySelector('svg.marks');
  if (!svg || !svg.getClientRects().length) continue;
  const name = chart.closest('.panel')?.querySelector('h3')?.textContent.slice(0, 40) ?? 'chart';
  const tell = (...what) => found.push([name, ...what].join(' | '));
  const frame = boxed(chart.querySelector('.reach'));
  const every = [...svg.querySelectorAll('text')]
    .filter((one) => one.textContent.trim() && isSeen(one));
  const words = (one) => one.textContent.trim();
  const behind = every.filter((one) => one.getAttribute('stroke'));
  const isHaloed = (one) => behind.some((other) => words(other) === words(one));
  const texts = every.filter((one) => !behind.includes(one))
    .map((one) => ({ one, words: words(one), at: boxed(one) }));
  const signals = [...svg.querySelectorAll('.mark-symbol path')]
    .filter((one) => SIGNALS.includes(one.getAttribute('fill')) && boxed(one).width > 9);
  const lines = [...svg.querySelectorAll('.mark-rule line')].filter(isSeen)
    .map((one) => ({ one, at: boxed(one) }));
  const curves = [...svg.querySelectorAll('.mark-line path')].filter(isSeen).map((one) => {
    const to = one.getScreenCTM();
    const points = [];
    for (let at = 0; at <= one.getTotalLength(); at += 3)
      points.push(one.getPointAtLength(at).matrixTransform(to));
    return points;
  });
  for (const [place, { one, words, at }] of texts.entries()) {
    if (at.left < frame.left - 1 || at.right > frame.right + 1 || at.top < frame.top - 2
        || at.bottom > frame.bottom + 2) tell(words, 'leaves the chart');
    for (const other of texts.slice(place + 1))
      if (both(at, other.at, 1, 3)) tell(words, 'lies on', other.words);
    if (signals.some((mark) => both(at, boxed(mark), 2, 3))) tell(words, 'lies on a signal');
    if (isHaloed(one)) continue;
    const inner =
      { left: at.left + 1, right: at.right - 1, top: at.top + 3, bottom: at.bottom - 3 };
    for (const line of lines) {
      const { left, right, top, bottom } = line.at;
      if (left < inner.right && right > inner.left && top < inner.bottom && bottom > inner.top)
        tell(words, 'is struck by a line', line.one.closest('g[class]').getAttribute('class'));
    }
    if (curves.some((points) => points.some(({ x, y }) =>
        x > inner.left && x < inner.right && y > inner.top && y < inner.bottom)))
      tell(words, 'is struck by a curve');
  }
}
return found;
"""
