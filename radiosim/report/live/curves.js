"use strict";
// How gaps and latencies are spread, and what a timeout costs and buys, as pictures.
const curves = (() => {
const percent = (share) => `${Number((100 * share).toPrecision(2))} %`;
const LEFT = 56;

// A logarithm has no 0: the rarest goes on to the longest.
function points(curve) {
  const beyond = curve.beyond;
  return curve.ms.map((ms, k) => [ms, k === beyond.length - 1 ? beyond[Math.max(0, k - 1)] : beyond[k]]);
}
function between(known, at) {
  for (let k = 1; k < known.length; k++) {
    const [[a, from], [b, to]] = [known[k - 1], known[k]];
    if (at <= b) return b === a ? to : from + (to - from) * (at - a) / (b - a);
  }
  return known[known.length - 1][1];
}

function gaps(place, data, title) {
  const known = data.streams.filter((it) => it.curve);
  const timeouts = new Map();
  for (const it of data.streams) {
    if (it.timeout_ms !== null) timeouts.set(it.timeout_ms, [...(timeouts.get(it.timeout_ms) || []), it.name]);
  }
  const begins = known.map((it) => it.curve.ms[it.curve.beyond.findIndex((share) => share < 0.99)]);
  const first = Math.min(...begins, ...timeouts.keys()), own = Number.isFinite(first) ? first : 1;
  const last = Math.max(...known.map((it) => it.curve.ms.at(-1)), ...timeouts.keys(), 3 * own);
  const low = own / 1.25, high = last * 1.35;
  const rarest = Math.min(0.05, ...known.map((it) => it.curve.beyond.at(-2) / 2).filter((it) => it > 0));
  const rows = timeouts.size, height = 250 + 15 * rows;
  const { svg, width } = plot.picture(place, height, title);
  const left = Math.max(LEFT, 10 + 7.4 * percent(10 ** Math.ceil(Math.log10(rarest))).length);
  const box = { left, right: width - 10, top: 26 + 15 * rows, bottom: height - 42 };
  const x = plot.scale(low, high, box.left, box.right, true), y = plot.scale(rarest, 1.2, box.bottom, box.top, true);
  plot.grid(svg, box, plot.logTicks(low, high, box.right - box.left).map((ms) => [x(ms), ms]),
    plot.logTicks(rarest, 1, 999, 1).filter((it) => Number.isInteger(Math.log10(it))).map((share) => [y(share), share]),
    { up: percent, label: "gap from one value to the next" });
  svg.append(draw("text", { x: 2, y: 12 }, "share of gaps that last longer"));
  plot.times(svg, box, x, [...timeouts].map(([ms, names]) => [ms, `timeout of ${short(names.join(", "), Math.max(8, Math.floor(width / 6.6) - 30))}`]));
  const curve = (it, number, place, options) => {
    const at = points(it).map(([ms, share]) => [x(Math.max(low, ms)), y(Math.max(rarest, share))]);
    plot.line(svg, [[box.left, at[0][1]], ...at], number, options);
    for (let k = 0; k < 3; k++) {
      const there = box.left + (box.right - box.left) * (k + place) / 3;
      if (there < at.at(-1)[0]) svg.append(plot.mark(plot.shape(number), there, between([[box.left, at[0][1]], ...at], there), { colour: plot.series(number), isFilled: !options.isThin, r: 3.4 }));
    }
    svg.append(plot.mark(plot.shape(number), ...at.at(-1), { colour: plot.series(number), isFilled: !options.isThin }));
  };
  data.streams.forEach((it, number) => {
    const along = (number + 0.5) / data.streams.length;
    if (it.worst) curve(it.worst.curve, number, along, { isThin: true });
    if (it.curve) curve(it.curve, number, along, {});
  });
  plot.key(place, data.streams.flatMap((it, number) => [
    [plot.lineSample(number), data.start === null ? `${it.name}, all starts` : it.name],
    ...(it.worst ? [[plot.lineSample(number, { isThin: true }), `${it.name}, start ${it.worst.start}`]] : []),
  ]));
}

const MOST_SHOWN = 6;
function where(curve, share) {
  const known = curve.beyond.map((beyond, k) => [1 - beyond, Math.log10(curve.ms[k])]);
  return 10 ** (share <= known[0][0] ? known[0][1] : between(known, share));
}
function latency(place, data, title) {
  const known = data.controls.filter((it) => it.age_ms).sort((a, b) => b.age_ms[1] - a.age_ms[1]);
  const shown = data.controls.filter((it) => known.indexOf(it) >= 0 && known.indexOf(it) < MOST_SHOWN);
  const oldest = known[0];
  const curves = shown.flatMap((it) => [it.latency, it.age]).filter(Boolean);
  const ends = [...curves.map((it) => where(it, 0.995)), ...(oldest.worst_age ? [where(oldest.worst_age.curve, 0.97)] : [])];
  const low = Math.min(...curves.map((it) => where(it, 0.005))) / 1.2, high = Math.max(...ends, 2 * low * 1.2) * 1.2;
  const panel = 130, height = 2 * panel + 122;
  const { svg, width } = plot.picture(place, height, title);
  const upper = { left: LEFT, right: width - 10, top: 26, bottom: 26 + panel };
  const lower = { ...upper, top: upper.bottom + 50, bottom: upper.bottom + 50 + panel };
  const x = plot.scale(low, high, upper.left, upper.right, true);
  const ticks = plot.logTicks(low, high, upper.right - upper.left).map((ms) => [x(ms), ms]);
  const isOutput = shown.some((it) => it.is_output);
  const panels = [[upper, "latency", "latency: share of values"],
    [lower, "age", isOutput ? "age of what is obeyed: share of time" : "age of the newest value: share of time"]];
  for (const [box, of, head] of panels) {
    const y = plot.scale(0, 1.03, box.bottom, box.top);
    plot.grid(svg, box, ticks, [0, 0.5, 1].map((share) => [y(share), share]), { up: percent, head, label: box === lower ? "time since the sample" : "" });
    const curve = (it, number, along, options) => {
      const inside = it.ms.map((ms, k) => [ms, 1 - it.beyond[k]]).filter(([ms]) => ms <= high && ms >= low);
      plot.line(svg, inside.map(([ms, share]) => [x(ms), y(share)]), number, options);
      for (let k = 0; k < 3; k++) {
        const share = (k + along) / 3, at = where(it, share);
        if (at >= low && at <= high) svg.append(plot.mark(plot.shape(number), x(at), y(share), { colour: plot.series(number), isFilled: !options.isThin, r: 3.4 }));
      }
    };
    shown.forEach((it, number) => {
      const along = (number + 0.5) / shown.length;
      if (of === "age" && it === oldest && it.worst_age) curve(it.worst_age.curve, number, along, { isThin: true });
      if (it[of]) curve(it[of], number, along, {});
    });
  }
  plot.key(place, shown.flatMap((it, number) => [
    [plot.lineSample(number), it.name],
    ...(it === oldest && it.worst_age ? [[plot.lineSample(number, { isThin: true }), `age of ${it.name}, start ${it.worst_age.start}`]] : []),
  ]));
}

function tradeOff(place, data, title) {
  const low = data.timeout_ms[0] / 1.1, high = data.timeout_ms.at(-1) * 1.1, panel = 105, height = 2 * panel + 122;
  const { svg, width } = plot.picture(place, height, title);
  const upper = { left: LEFT + 6, right: width - 10, top: 42, bottom: 42 + panel };
  const lower = { ...upper, top: upper.bottom + 42, bottom: upper.bottom + 42 + panel };
  const x = plot.scale(low, high, upper.left, upper.right, true);
  const ticks = [50, 100, 200, 500, 1000, 2000].filter((ms) => ms >= low && ms <= high).map((ms) => [x(ms), ms]);
  // Even up to what is asked, then by decades: 0 has a place too.
  const bent = (rate) => Math.asinh(rate / data.asked_per_hour * 2);
  const most = Math.max(data.asked_per_hour, ...data.nuisance_per_hour, ...data.nuisance_per_hour_ci95.map((it) => (it ? it[1] : 0)));
  const up = plot.scale(0, bent(most) * 1.08, upper.bottom, upper.top);
  const rates = [0, data.asked_per_hour];
  while (rates.at(-1) * 10 <= most) rates.push(rates.at(-1) * 10);
  plot.grid(svg, upper, ticks, rates.map((rate) => [up(bent(rate)), rate]), { up: (rate) => `${rate}/h`, head: "nuisance trips" });
  const reactions = data.worst_reaction_ms.filter((ms) => ms !== null);
  const near = Math.min(40, ...reactions) / 1.2, far = Math.max(data.asked_reaction_ms, 100, ...reactions) * 1.2;
  const right = plot.scale(near, far, lower.bottom, lower.top, true);
  plot.grid(svg, lower, ticks, plot.logTicks(near, far, panel, 26).map((ms) => [right(ms), ms]), { up: time, head: "longest reaction", label: "timeout" });
  const kept = !data.why_none && data.shortest_ms !== null && data.longest_ms !== null;
  for (const [box, y] of [[upper, up(bent(data.asked_per_hour))], [lower, right(data.asked_reaction_ms)]]) {
    if (kept) {
      const from = x(Math.max(low, data.shortest_ms)), to = x(Math.min(high, data.longest_ms));
      svg.append(draw("rect", { x: from, y: box.top, width: Math.max(0, to - from), height: box.bottom - box.top, class: "feasible" }));
    }
    svg.append(draw("line", { x1: box.left, x2: box.right, y1: y, y2: y, class: "asked" }));
  }
  plot.times(svg, { ...upper, bottom: lower.bottom, top: upper.top - 14 }, x, [[data.now_ms, `now ${time(data.now_ms)}`]]);
  data.timeout_ms.forEach((ms, k) => {
    const interval = data.nuisance_per_hour_ci95[k];
    if (interval) svg.append(draw("path", { d: `M${x(ms)} ${up(bent(interval[0]))}V${up(bent(interval[1]))}`, stroke: plot.series(0), "stroke-width": 1.4 }));
    svg.append(plot.mark(plot.ROUND, x(ms), up(bent(data.nuisance_per_hour[k])), { colour: plot.series(0), r: 3 }));
  });
  const known = data.timeout_ms.map((ms, k) => [ms, data.worst_reaction_ms[k]]).filter(([, reaction]) => reaction !== null);
  for (const [ms, reaction] of known) svg.append(plot.mark(plot.SQUARE, x(ms), right(reaction), { colour: plot.series(1), r: 3 }));
  if (!known.length) svg.append(draw("text", { x: (lower.left + lower.right) / 2, y: (lower.top + lower.bottom) / 2, "text-anchor": "middle", class: "bad" }, "no timeout has a bound"));
  plot.key(place, [
    [(of) => of.append(draw("path", { d: "M15 1V13", stroke: plot.series(0), "stroke-width": 1.4 }), plot.mark(plot.ROUND, 15, 7, { colour: plot.series(0), r: 3 })), "nuisance trips, 95 % interval"],
    [(of) => of.append(plot.mark(plot.SQUARE, 15, 7, { colour: plot.series(1), r: 3 })), "reaction, at most"],
    [(of) => of.append(draw("line", { x1: 1, x2: 29, y1: 7, y2: 7, class: "asked" })), "asked, at most"],
    ...(kept ? [[(of) => of.append(draw("rect", { x: 2, y: 1, width: 26, height: 12, class: "feasible" })), "feasible range"]] : []),
  ]);
}

return { gaps, latency, tradeOff };
})();
