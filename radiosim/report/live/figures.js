"use strict";
// Which picture shows which numbers; each is painted anew where its place gets another width.
const figures = (() => {
const PAINTERS = [[/^gaps$/, curves.gaps], [/^latency$/, curves.latency], [/^worst$/, air.strip],
  [/^beats$/, air.beats], [/^near$/, air.near], [/^trade-off-\d+$/, curves.tradeOff]];
const ORDER = ["gaps", "worst", "near", "beats", "latency"];
const shown = new Map();
const fresh = new Set();

function paint(it) {
  const { figure, place } = it;
  const width = place.clientWidth;
  if (!width || it.painted === width) return;
  it.painted = width;
  place.replaceChildren();
  const found = PAINTERS.find(([name]) => name.test(figure.name));
  if (found) found[1](place, figure.data, figure.title);
  for (const svg of place.querySelectorAll("svg[role]")) svg.setAttribute("aria-describedby", it.text.id);
}
const watcher = new ResizeObserver((entries) => {
  for (const { target } of entries) for (const it of shown.values()) if (it.place === target) paint(it);
});
const rank = (name) => (ORDER.includes(name) ? ORDER.indexOf(name) : ORDER.length);

function show(figure) {
  let it = shown.get(figure.name);
  if (!it) {
    const id = `figure-${figure.name}`;
    it = { title: make("h2", { id: `${id}-title` }), place: make("div", { className: "picture" }), text: make("p", { id: `${id}-text`, className: "quiet" }) };
    it.whole = make("figure", { id, "aria-labelledby": `${id}-title` }, it.title, it.place,
      make("figcaption", {}, make("details", {}, make("summary", {}, "In words"), it.text)));
    const after = [...shown.values()].find((other) => rank(other.figure.name) > rank(figure.name));
    $("figures").insertBefore(it.whole, after ? after.whole : null);
    shown.set(figure.name, it);
    watcher.observe(it.place);
  }
  it.figure = figure;
  it.painted = 0;
  it.title.textContent = figure.title;
  it.text.textContent = figure.text;
  it.whole.classList.remove("stale");
  fresh.add(figure.name);
  paint(it);
}
// Pictures of the settings before stay until theirs come, and are told from them.
const begin = () => fresh.clear();
function stale() {
  for (const [name, it] of shown) it.whole.classList.toggle("stale", !fresh.has(name));
}
// What the whole answer has no picture for any more goes.
function end() {
  for (const [name, it] of shown) {
    if (fresh.has(name)) continue;
    watcher.unobserve(it.place);
    it.whole.remove();
    shown.delete(name);
  }
}

return { begin, show, stale, end };
})();
