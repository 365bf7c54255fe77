// Draw every chart of the page from the specification beside it. Nothing is fetched.
for (const box of document.querySelectorAll(".chart")) {
  const spec = JSON.parse(box.querySelector("script").textContent);
  const options = { actions: false, renderer: "svg", tooltip: { theme: "page" } };
  window
    .vegaEmbed(box.querySelector(".drawing"), spec, options)
    .then(() => box.setAttribute("data-drawn", "yes"))
    .catch((error) => {
      box.setAttribute("data-drawn", "failed");
      box.querySelector(".drawing").textContent = "This chart could not be drawn; its months are in the table below.";
      console.error(error);
    });
}
// Paper has nothing to click: open every block for printing, and close it again afterwards.
let closed = [];
window.addEventListener("beforeprint", () => {
  closed = [...document.querySelectorAll("details:not([open])")];
  closed.forEach((block) => (block.open = true));
});
window.addEventListener("afterprint", () => closed.forEach((block) => (block.open = false)));
