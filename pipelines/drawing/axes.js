// Axes of percentages: fitted, as a chart comes, or from 0 to 100 %, all charts at once.
const AXES = [["", "fitted"], ["whole", "0 to 100 %"]];
const isFitted = ({ spec }) => Boolean(spec?.params?.some(({ name }) => name === "whole"));

function setAxis(chart, isWhole) {
  if (!chart.view || !isFitted(chart) || chart.view.signal("whole") === isWhole) return;
  forget(chart);
  chart.view.signal("whole", isWhole).run();
}

async function applyAxis() {
  for (const button of axes?.querySelectorAll("button") ?? [])
    button.setAttribute("aria-pressed", String(button.value === chosen.axis));
  for (const chart of CHARTS.filter(isFitted)) {
    if (chart.view) await breath();
    setAxis(chart, chosen.axis === "whole");
  }
}

// In the form above the panels, else above the first chart that it is about.
function makeAxes() {
  const first = CHARTS.find(isFitted);
  if (!first) return null;
  const one = made("span", { className: "axes" }, "Axes of percentages ");
  one.setAttribute("role", "group");
  one.setAttribute("aria-label", "Axes of percentages");
  for (const [value, words] of AXES) {
    const button = made("button", { type: "button", value }, words);
    button.addEventListener("click", () => {
      chosen.axis = value;
      writeAddress();
      applyAxis();
    });
    one.append(button);
  }
  const place = first.box.closest(".panels") ?? first.box.closest(".panel") ?? first.box;
  if (form) form.querySelector("[type=reset]").after(one);
  else place.before(made("div", { className: "choose" }, one));
  return one;
}
// On paper every axis is fitted and carries its sign.
window.addEventListener("beforeprint", () => CHARTS.forEach((chart) => setAxis(chart, false)));
window.addEventListener("afterprint", applyAxis);
