"use strict";
// What happens on the air, and where periods beat, as pictures.
const air = (() => {
const bad = "var(--bad)", ink = "var(--ink)", quiet = "var(--quiet)", ground = "var(--ground)";
const LANE = 46;
// Fate → shape of its mark and words, as the written page has them.
const LOST = {
  collision: [plot.CROSS, "collision"], deaf: [plot.DOWN, "receiver deaf"], full: [plot.SQUARE, "FIFO full"],
  chance: [plot.ROUND, "lost by chance"], "out of range": [plot.DIAMOND, "out of range"], off: [plot.PLUS, "receiver off"],
  cut: [plot.BAR, "cut off"],
};
const BARS = {
  hears: [0.42, quiet, quiet, "hears a frame"], deaf: [0.42, "url(#hatch-even)", quiet, "deaf by its program"],
  settles: [0.13, "url(#hatch-up)", ink, "turns round, deaf"], acknowledges: [0.3, "url(#hatch)", ink, "acknowledges, deaf"],
  "acknowledges unheard": [0.3, "url(#hatch-bad)", bad, "acknowledges unheard"],
};
const EFFECTS = {
  fresh: [plot.UP, ink, "fresh value in effect"], again: [plot.DASH, quiet, "pulse repeats"],
  "not live": [plot.SQUARE, bad, "failsafe or start-up"],
};

function bar(svg, x, from, to, foot, high, fill, stroke) {
  svg.append(draw("rect", { x: x(from), y: foot - high * LANE, width: Math.max(1.6, x(to) - x(from)), height: high * LANE, fill, stroke, "stroke-width": 1 }));
}
const barSample = (fill, stroke, high = 12) => (svg) =>
  svg.append(draw("rect", { x: 4, y: 13 - high, width: 22, height: high, fill, stroke, "stroke-width": 1 }));
const markSample = (of, colour, isFilled) => (svg) => svg.append(plot.mark(of, 15, 7, { colour, isFilled, r: 3.6 }));

// Marks that would lie on the one before are left out: their bars tell.
function apart(spans, x) {
  const kept = [];
  for (const it of spans) {
    const at = x((it.start_ms + it.end_ms) / 2);
    if (!kept.length || at - kept.at(-1) >= 7) kept.push(at);
  }
  return kept;
}

function strip(place, data, title) {
  const height = LANE * data.lanes.length + 52, { svg, width } = plot.picture(place, height, title);
  const box = { left: 4, right: width - 8, top: 4, bottom: height - 42 };
  const x = plot.scale(data.from_ms, data.to_ms, box.left, box.right), told = new Map();
  const tell = (words, sample) => { if (!told.has(words)) told.set(words, sample); };
  svg.append(hatches());
  const inside = draw("svg", { x: box.left, y: 0, width: box.right - box.left, height: box.bottom + 1, viewBox: `${box.left} 0 ${box.right - box.left} ${box.bottom + 1}` });
  data.lanes.forEach((lane, number) => {
    const foot = box.top + LANE * (number + 1), colour = plot.series(number);
    svg.append(draw("line", { x1: box.left, x2: box.right, y1: foot, y2: foot, class: "grid" }),
      draw("text", { x: box.left + 2, y: foot - LANE + 14 }, short(lane.name, 28)));
    for (const it of lane.down) {
      bar(inside, x, it.start_ms, it.end_ms, foot, 0.42, "url(#hatch-back)", quiet);
      tell(lane.kind === "radio" ? "radio off" : "not running", barSample("url(#hatch-back)", quiet));
    }
    LANES[lane.kind](inside, lane, { x, foot, colour, tell });
  });
  svg.append(inside);
  const ticks = plot.evenTicks(data.from_ms, data.to_ms, width / 110);
  for (const ms of ticks) {
    const half = plain(ms).length * 4.1;
    svg.append(draw("line", { x1: x(ms), x2: x(ms), y1: box.bottom, y2: box.bottom + 5, class: "axis" }),
      draw("text", { x: Math.max(half, Math.min(x(ms), width - half)), y: box.bottom + 18, "text-anchor": "middle" }, plain(ms)));
  }
  svg.append(draw("text", { x: width / 2, y: box.bottom + 36, "text-anchor": "middle" }, "time in the start, ms"));
  plot.key(place, [...told].map(([words, sample]) => [sample, words]));
}

const LANES = {
  transmitter(svg, lane, { x, foot, colour, tell }) {
    for (const it of lane.spans) {
      if (it.fate in LOST) {
        bar(svg, x, it.start_ms, it.end_ms, foot, 0.22, ground, colour);
      } else {
        bar(svg, x, it.start_ms, it.end_ms, foot, 0.42, it.fate === "new" ? colour : ground, colour);
        tell(it.fate === "new" ? "new frame arrives" : "the same again", barSample(it.fate === "new" ? colour : ground, colour));
      }
    }
    for (const [fate, [of, words]] of Object.entries(LOST)) {
      const spans = lane.spans.filter((it) => it.fate === fate);
      for (const at of apart(spans, x)) svg.append(plot.mark(of, at, foot - 0.38 * LANE, { colour: bad, isFilled: false, r: 3.6 }));
      if (spans.length) tell(words, markSample(of, bad, false));
    }
    const taken = lane.acknowledgements.filter((it) => it.fate === "taken");
    const missed = lane.acknowledgements.filter((it) => it.fate !== "taken");
    for (const at of apart(taken, x)) svg.append(plot.mark(plot.ROUND, at, foot - 0.54 * LANE, { colour: ink, r: 2 }));
    for (const at of apart(missed, x)) svg.append(plot.mark(plot.PLUS, at, foot - 0.54 * LANE, { colour: bad, r: 3.6 }));
    if (taken.length) tell("acknowledged", (of) => of.append(plot.mark(plot.ROUND, 15, 7, { colour: ink, r: 2 })));
    if (missed.length) tell("acknowledgement lost", markSample(plot.PLUS, bad, true));
  },
  radio(svg, lane, { x, foot, tell }) {
    for (const it of lane.spans) {
      const [high, fill, stroke, words] = BARS[it.fate];
      bar(svg, x, it.start_ms, it.end_ms, foot, high, fill, stroke);
      tell(words, barSample(fill, stroke, 28 * high));
    }
  },
  passes(svg, lane, { x, foot, tell }) {
    let ticks = "";
    for (const it of lane.spans) {
      const isIdle = it.fate === "idle";
      if (!isIdle) {
        bar(svg, x, it.start_ms, it.end_ms, foot, 0.42, ink, ink);
        tell("pass that reads", barSample(ink, ink));
      }
      ticks += `M${x(it.start_ms).toFixed(1)} ${foot}v${isIdle ? -0.13 * LANE : -0.5 * LANE}`;
    }
    svg.append(draw("path", { d: ticks || "M0 0", stroke: ink, "stroke-width": 0.9 }));
    if (ticks) tell("a pass begins", markSample(plot.BAR, ink, true));
  },
  fifo(svg, lane, { x, foot, tell }) {
    const most = Math.max(3, ...lane.spans.map((it) => Number(it.fate)));
    for (const it of lane.spans) bar(svg, x, it.start_ms, it.end_ms, foot, 0.5 * it.fate / most, plot.series(2), plot.series(2));
    if (lane.spans.length) tell("frames waiting", barSample(plot.series(2), plot.series(2)));
  },
  output(svg, lane, { x, foot, tell }) {
    for (const [fate, [of, colour, words]] of Object.entries(EFFECTS)) {
      const spans = lane.spans.filter((it) => it.fate === fate);
      for (const at of apart(spans, x)) svg.append(plot.mark(of, at, foot - 0.25 * LANE, { colour, r: 3.6 }));
      if (spans.length) tell(words, markSample(of, colour, true));
    }
  },
};

// Kept once a page, in the picture that needs them first; keys use them too.
function hatches() {
  const made = draw("defs");
  const kinds = { hatch: ["M0 6L6 0", ink], "hatch-back": ["M0 0L6 6", quiet], "hatch-even": ["M0 3H6", quiet], "hatch-up": ["M3 0V6", ink], "hatch-bad": ["M0 6L6 0M0 0L6 6", bad], "hatch-quiet": ["M0 6L6 0", quiet] };
  for (const [id, [d, stroke]] of Object.entries(kinds)) {
    const pattern = draw("pattern", { id, width: 6, height: 6, patternUnits: "userSpaceOnUse" });
    pattern.append(draw("path", { d, stroke, "stroke-width": 1 }));
    made.append(pattern);
  }
  return made;
}

function beats(place, data, title) {
  const height = 270, { svg, width } = plot.picture(place, height, title);
  const box = { left: 56, right: width - 10, top: 26, bottom: height - 42 };
  const most = 1.08 * Math.max(data.overlap_ms * 1.5, ...[...data.offset_ms, ...data.lost_offset_ms].map(Math.abs));
  const x = plot.scale(data.from_s, data.to_s, box.left, box.right), y = plot.scale(-most, most, box.bottom, box.top);
  plot.grid(svg, box, plot.evenTicks(data.from_s, data.to_s, (box.right - box.left) / 70).map((s) => [x(s), s]),
    plot.evenTicks(-most, most, 5).map((ms) => [y(ms), ms]), { at: plain, up: plain, label: "time in the start, s" });
  svg.append(draw("text", { x: 2, y: 14 }, `${short(data.second, 14)} after ${short(data.first, 14)}, ms`), hatches());
  svg.append(draw("rect", { x: box.left, y: y(data.overlap_ms), width: box.right - box.left, height: y(-data.overlap_ms) - y(data.overlap_ms), fill: "url(#hatch-quiet)", stroke: quiet, "stroke-width": 0.6 }));
  const r = data.at_s.length > 300 ? 1.1 : 2;
  svg.append(draw("path", { d: data.at_s.map((s, k) => plot.ROUND(x(s), y(data.offset_ms[k]), r)).join(""), fill: plot.series(1) }));
  svg.append(draw("path", { d: data.lost_at_s.map((s, k) => plot.CROSS(x(s), y(data.lost_offset_ms[k]), 3.2)).join("") || "M0 0", stroke: bad, "stroke-width": 1.5, fill: "none" }));
  plot.key(place, [
    [barSample("url(#hatch-quiet)", quiet), "frames overlap"],
    [markSample((a, b) => plot.ROUND(a, b, 1.6), plot.series(1), true), "a frame"],
    [markSample(plot.CROSS, bad, false), "lost to a collision"],
  ]);
}

// How far each two periods are from a whole multiple, beside how near they would have to be to beat.
function near(place, data, title) {
  const row = 44, height = row * data.pairs.length + 60, { svg, width } = plot.picture(place, height, title);
  const box = { left: 8, right: width - 14, top: 4, bottom: height - 42 };
  const most = 1.15 * Math.max(...data.pairs.flatMap((it) => [it.distance_ms, it.window_ms]));
  const x = plot.scale(0, most, box.left, box.right);
  svg.append(hatches());
  data.pairs.forEach((it, k) => {
    const foot = box.top + row * (k + 1) - 4, colour = it.is_beating ? bad : plot.series(0);
    svg.append(draw("text", { x: box.left, y: foot - 22 }, `${short(`${it.first} and ${it.second}`, Math.floor(width / 8))}${it.is_beating ? ": beat" : ""}`),
      draw("rect", { x: box.left, y: foot - 15, width: x(it.window_ms) - box.left, height: 13, fill: "url(#hatch-quiet)", stroke: quiet, "stroke-width": 0.8 }),
      draw("line", { x1: box.left, x2: box.right, y1: foot, y2: foot, class: "grid" }),
      plot.mark(it.is_beating ? plot.CROSS : plot.DIAMOND, x(it.distance_ms), foot - 8, { colour, isFilled: !it.is_beating, r: 4.5 }));
  });
  for (const ms of plot.evenTicks(0, most, width / 90)) {
    svg.append(draw("text", { x: Math.max(4, x(ms)), y: box.bottom + 16, "text-anchor": "middle" }, plain(ms)));
  }
  svg.append(draw("text", { x: width / 2, y: box.bottom + 34, "text-anchor": "middle" }, "from a whole multiple of each other, ms"));
  plot.key(place, [
    [barSample("url(#hatch-quiet)", quiet), "so near they beat"],
    [markSample(plot.DIAMOND, plot.series(0), true), "periods that keep apart"],
    ...(data.pairs.some((it) => it.is_beating) ? [[markSample(plot.CROSS, bad, false), "periods that beat"]] : []),
  ]);
}

return { strip, beats, near };
})();
