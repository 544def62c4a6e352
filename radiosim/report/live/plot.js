"use strict";
// Axes, lines and marks of pictures that are as wide as there is room: letters keep their size.
// Colours are variables of the style sheet; dashes and shapes tell the same.
const plot = (() => {
const series = (number) => `var(--series-${number % 4 + 1})`;
const DASHES = ["", "9 4", "2 3", "9 3 2 3"];
const dash = (number) => DASHES[Math.floor(number / 4) % 4];
const LETTER_PX = 6.6;

function picture(place, height, title) {
  const width = Math.max(230, Math.floor(place.clientWidth));
  const svg = draw("svg", { viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": title });
  place.append(svg);
  return { svg, width };
}

const log = Math.log10;
function scale(low, high, from, to, isLog = false) {
  const share = isLog ? (v) => log(v / low) / log(high / low) : (v) => (v - low) / (high - low);
  return (value) => from + (to - from) * share(value);
}

function logTicks(low, high, pixels, widest = 60) {
  const decades = log(high / low);
  const kinds = [[1, 2, 5], [1, 3], [1]];
  const found = (parts) => {
    const ticks = [];
    for (let k = Math.floor(log(low)); k <= Math.ceil(log(high)); k++) {
      for (const part of parts) {
        const tick = Number((part * 10 ** k).toPrecision(6));
        if (tick >= low && tick <= high) ticks.push(tick);
      }
    }
    return ticks;
  };
  const first = decades <= 1.6 ? 0 : decades <= 2.4 ? 1 : 2;
  for (const parts of kinds.slice(first)) {
    const ticks = found(parts);
    if (ticks.length * widest <= pixels) return ticks;
  }
  const ticks = found([1]);
  const step = Math.ceil(ticks.length * widest / pixels);
  return ticks.filter((_, k) => k % step === 0);
}

function evenTicks(low, high, most) {
  const rough = (high - low) / Math.max(1, most);
  if (!(rough > 0)) return [low];
  const size = 10 ** Math.floor(log(rough));
  const step = [1, 2, 5, 10].map((it) => it * size).find((it) => it >= rough);
  const ticks = [];
  for (let k = Math.ceil(low / step); k * step <= high * (1 + 1e-9); k++) ticks.push(Number((k * step).toPrecision(9)));
  return ticks;
}

// Grid and numbers of one panel. box: left, right, top, bottom.
function grid(svg, box, across, down, { at = time, up = String, label = "", head = "" }) {
  for (const [y, value] of down) {
    svg.append(draw("line", { x1: box.left, x2: box.right, y1: y, y2: y, class: "grid" }),
      draw("text", { x: box.left - 6, y: y + 4, "text-anchor": "end" }, up(value)));
  }
  for (const [x, value] of across) {
    const text = at(value), half = text.length * LETTER_PX / 2;
    const place = Math.max(box.left - 20 + half, Math.min(x, box.right + 8 - half));
    svg.append(draw("line", { x1: x, x2: x, y1: box.top, y2: box.bottom, class: "grid" }),
      draw("text", { x: place, y: box.bottom + 16, "text-anchor": "middle" }, text));
  }
  svg.append(draw("path", { d: `M${box.left} ${box.top}V${box.bottom}H${box.right}`, class: "axis" }));
  if (label) svg.append(draw("text", { x: (box.left + box.right) / 2, y: box.bottom + 34, "text-anchor": "middle" }, label));
  if (head) svg.append(draw("text", { x: 2, y: box.top - 8 }, head));
}

const path = (points) => points.map(([x, y], k) => `${k ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`).join("");
function line(svg, points, number, { isThin = false } = {}) {
  if (points.length) {
    svg.append(draw("path", {
      d: path(points), fill: "none", stroke: series(number), "stroke-width": isThin ? 1.4 : 2.2,
      "stroke-dasharray": isThin ? "3 2.5" : dash(number), "stroke-linejoin": "round",
    }));
  }
}

const SHAPES = [
  (x, y, r) => `M${x - r} ${y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0Z`,
  (x, y, r) => `M${x - r} ${y - r}h${2 * r}v${2 * r}h${-2 * r}Z`,
  (x, y, r) => `M${x} ${y - 1.3 * r}L${x + 1.2 * r} ${y + r}H${x - 1.2 * r}Z`,
  (x, y, r) => `M${x} ${y - 1.4 * r}L${x + 1.4 * r} ${y}L${x} ${y + 1.4 * r}L${x - 1.4 * r} ${y}Z`,
  (x, y, r) => `M${x} ${y + 1.3 * r}L${x + 1.2 * r} ${y - r}H${x - 1.2 * r}Z`,
  (x, y, r) => `M${x - r} ${y - r}L${x + r} ${y + r}M${x + r} ${y - r}L${x - r} ${y + r}`,
  (x, y, r) => `M${x - 1.2 * r} ${y}H${x + 1.2 * r}M${x} ${y - 1.2 * r}V${y + 1.2 * r}`,
  (x, y, r) => `M${x} ${y - 1.3 * r}V${y + 1.3 * r}`,
  (x, y, r) => `M${x - 1.2 * r} ${y}H${x + 1.2 * r}`,
];
const [ROUND, SQUARE, UP, DIAMOND, DOWN, CROSS, PLUS, BAR, DASH] = SHAPES;
const shape = (number) => SHAPES[number % 5];

function mark(of, x, y, { colour, isFilled = true, r = 4 }) {
  return draw("path", { d: of(x, y, r), fill: isFilled ? colour : "var(--ground)", stroke: colour, "stroke-width": 1.5 });
}

// What lines and marks mean: each an entry with a sample that `paint` draws, 30 by 14.
function key(place, entries) {
  const list = make("ul", { className: "key" });
  for (const [paint, words] of entries) {
    const sample = draw("svg", { viewBox: "0 0 30 14", width: 30, height: 14, "aria-hidden": "true" });
    paint(sample);
    list.append(make("li", {}, sample, words));
  }
  place.append(list);
}
function lineSample(number, options = {}) {
  return (svg) => {
    line(svg, [[1, 7], [29, 7]], number, options);
    svg.append(mark(shape(number), 15, 7, { colour: series(number), isFilled: !options.isThin, r: 3.4 }));
  };
}

// Upright lines at times in ms, each with its words in a row of its own above the panel.
function times(svg, box, x, named) {
  const rows = [...named].sort((a, b) => a[0] - b[0]);
  rows.forEach(([ms, words], row) => {
    const at = x(ms), top = box.top - 8 - 15 * (rows.length - 1 - row);
    const isLeft = at + 6 + words.length * LETTER_PX > box.right + 8;
    svg.append(draw("line", { x1: at, x2: at, y1: top - 8, y2: box.bottom, class: "time" }),
      draw("text", { x: Math.max(isLeft ? words.length * LETTER_PX : 0, isLeft ? at - 4 : at + 4), y: top, "text-anchor": isLeft ? "end" : "start" }, words));
  });
}

return { series, dash, picture, scale, logTicks, evenTicks, grid, path, line, shape, mark, key, lineSample, times, ROUND, SQUARE, UP, DIAMOND, DOWN, CROSS, PLUS, BAR, DASH };
})();
