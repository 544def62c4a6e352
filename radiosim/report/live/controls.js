"use strict";
// The settings: a control for each key that the scenario lets vary, steps back and forth, and the
// part of the address that carries them.
const hello = JSON.parse(document.getElementById("hello").textContent);
const now = Object.fromEntries(hello.controls.map((it) => [it.key, it.now]));
const rows = {};
let faults = true;
let extra = [];

function put(it, value) {
  const { row, show } = rows[it.key];
  now[it.key] = value;
  show(value);
  row.classList.toggle("changed", value !== it.now);
  complain(it, "");
}
function nearest(values, value) {
  return values.reduce((best, it, k) => Math.abs(it - value) < Math.abs(values[best] - value) ? k : best, 0);
}
function complain(it, text) {
  const { row, problem } = rows[it.key];
  problem.textContent = text;
  for (const input of row.querySelectorAll("input, select")) input.setAttribute("aria-invalid", String(Boolean(text)));
}

// ---- one control ---------------------------------------------------------------------------------
function control(it, id) {
  const name = make("label", { htmlFor: id }, it.name);
  const help = make("p", { id: `${id}-help`, className: "help", hidden: true }, helpOf(it));
  const ask_ = make("button", { type: "button", className: "what", "aria-label": `What ${it.name} of ${it.group} is`, "aria-expanded": "false", "aria-controls": help.id }, "?");
  ask_.addEventListener("click", () => {
    help.hidden = !help.hidden;
    ask_.setAttribute("aria-expanded", String(!help.hidden));
  });
  const row = make("div", { className: "control" }, name, ask_);
  const problem = make("p", { className: "problem", role: "alert" });
  const inputs = it.words.length ? choice(it, id) : slider(it, id);
  row.append(...inputs.parts, help, problem);
  rows[it.key] = { row, problem, ...inputs };
  put(it, it.now);
  return row;
}
function helpOf(it) {
  const moves = it.moves.length ? ` Moves ${it.moves.join(", ")}.` : "";
  const found = it.measure ? ` How to find it: ${it.measure}.` : "";
  return `${it.meaning[0].toUpperCase()}${it.meaning.slice(1)}. Key ${it.key}: ${it.allowed}; ${it.now} in the file.${found}${moves}`;
}
function choice(it, id) {
  const select = make("select", { id, "aria-label": `${it.group} ${it.name}` }, ...it.words.map((word) => make("option", {}, word)));
  select.addEventListener("change", () => { put(it, select.value); ask(); });
  return { parts: [select], show: (value) => { select.value = value; } };
}
function slider(it, id) {
  const range = make("input", { type: "range", id, min: 0, max: it.values.length - 1, step: 1, "aria-label": `${it.group} ${it.name}`, "aria-describedby": `${id}-meet` });
  const number = make("input", { type: "number", step: "any", inputMode: "decimal", "aria-label": `${it.group} ${it.name}${it.unit ? `, ${it.unit}` : ""}` });
  const track = draw("svg", { "aria-hidden": "true", class: "track" });
  const meet = make("p", { id: `${id}-meet`, className: "meet" });
  range.addEventListener("input", () => { dragged = it.key; put(it, it.values[range.valueAsNumber]); ask(); });
  range.addEventListener("change", () => { dragged = null; });
  number.addEventListener("change", () => {
    if (Number.isFinite(number.valueAsNumber)) { put(it, number.valueAsNumber); ask(); } else put(it, now[it.key]);
  });
  new ResizeObserver(() => marks.paint(it)).observe(range);
  const show = (value) => {
    range.value = nearest(it.values, value);
    number.value = plain(value);
    range.setAttribute("aria-valuetext", `${plain(value)} ${it.unit}`.trim());
  };
  return { parts: [make("span", { className: "number" }, number, make("span", { className: "unit" }, it.unit)), make("div", { className: "slide" }, range, track), meet], show, range, track, meet };
}

// ---- where on a slider periods would beat ----------------------------------------------------------
const marks = (() => {
const THUMB_PX = 8;
let known = {};

function spans(it) {
  const beats = known[it.key] || [], found = [];
  beats.forEach((isSo, k) => {
    if (!isSo) return;
    if (k && beats[k - 1]) found[found.length - 1][1] = k; else found.push([k, k]);
  });
  return found;
}
function zone(x, width) {
  const drawn = draw("g");
  drawn.append(draw("rect", { x, y: 2, width, height: 7, class: "zone" }));
  for (let at = x + 2; at < x + width - 1; at += 4) drawn.append(draw("path", { d: `M${at} 9l2 -7`, class: "zone" }));
  return drawn;
}
function paint(it) {
  const { range, track } = rows[it.key], width = range ? range.clientWidth : 0, last = it.values.length - 1;
  if (!width) return;
  const at = (k) => THUMB_PX + (width - 2 * THUMB_PX) * k / Math.max(1, last), x = at(it.values.indexOf(it.now));
  track.setAttribute("viewBox", `0 0 ${width} 11`);
  track.replaceChildren(...spans(it).map(([from, to]) => zone(Math.max(0, at(from - 0.4)), Math.min(width, at(to + 0.4)) - Math.max(0, at(from - 0.4)))),
    draw("path", { d: `M${x} 0l4 9h-8Z`, class: "own" }));
}
function show(marked) {
  known = marked;
  for (const it of hello.controls) {
    if (!rows[it.key].meet) continue;
    const texts = spans(it).map(([from, to]) => from === to ? plain(it.values[from]) : `${plain(it.values[from])} to ${plain(it.values[to])}`);
    rows[it.key].meet.textContent = texts.length ? `beats at ${texts.join(", ")} ${it.unit}` : "";
    paint(it);
  }
}
return { paint, show };
})();

// ---- back and forth --------------------------------------------------------------------------------
const MOST_STEPS = 200;
const state = () => ({ set: { ...now }, faults, extra: [...extra] });
const isSame = (one, other) => JSON.stringify(one) === JSON.stringify(other);
let past = [], place = -1, dragged = null, draggedLast = null;

// A slider that is dragged is one step, however many values it passes.
function record() {
  const is = state();
  if (place >= 0 && isSame(is, past[place])) return;
  if (dragged && dragged === draggedLast) past[place] = is;
  else past = [...past.slice(Math.max(0, place + 2 - MOST_STEPS), place + 1), is];
  place = past.length - 1;
  draggedLast = dragged;
  carry();
}
function restore(is) {
  for (const it of hello.controls) put(it, is.set[it.key]);
  faults = is.faults;
  extra = [...is.extra];
  if ($("faults")) $("faults").checked = faults;
}
function step(by) {
  place += by;
  restore(past[place]);
  draggedLast = null;
  carry();
  ask();
}
function isOfFile() {
  return faults && !extra.length && hello.controls.every((it) => now[it.key] === it.now);
}

// ---- the part of the address that carries the settings -----------------------------------------------
function carried() {
  const parts = hello.controls.filter((it) => now[it.key] !== it.now).map((it) => `${encodeURIComponent(it.key)}=${encodeURIComponent(now[it.key])}`);
  if (!faults) parts.push("faults=no");
  return parts.length ? `#${parts.join("&")}` : "";
}
function carry() {
  if (location.hash !== carried()) history.replaceState(null, "", carried() || location.pathname);
  $("undo").disabled = place === 0;
  $("redo").disabled = place === past.length - 1;
  $("as-file").disabled = isOfFile();
  const others = extra.filter((line) => !hello.controls.some((it) => line.startsWith(`${it.key}=`)));
  $("others").textContent = others.length ? `Taken over too, but in no link: ${others.join("; ")}` : "";
}
function readLink() {
  const given = {};
  for (const part of location.hash.slice(1).split("&")) {
    const [key, value] = part.split("=").map((text) => { try { return decodeURIComponent(text); } catch { return ""; } });
    given[key] = value;
  }
  for (const it of hello.controls) {
    const value = given[it.key];
    const isFit = value !== undefined && value !== "" && (it.words.length ? it.words.includes(value) : Number.isFinite(Number(value)));
    put(it, isFit ? (it.words.length ? value : Number(value)) : it.now);
  }
  faults = given.faults !== "no" || !hello.faults;
  extra = [];
  if ($("faults")) $("faults").checked = faults;
}

// ---- all of them -----------------------------------------------------------------------------------
function build() {
  const form = $("controls"), isWide = matchMedia("(min-width: 860px)").matches;
  const button = (id, words, act) => {
    const made = make("button", { type: "button", id }, words);
    made.addEventListener("click", act);
    return made;
  };
  form.append(make("div", { className: "buttons" },
    button("undo", "Undo", () => step(-1)), button("redo", "Redo", () => step(1)),
    button("as-file", "As the file has it", () => { restore({ set: Object.fromEntries(hello.controls.map((it) => [it.key, it.now])), faults: true, extra: [] }); ask(); })),
  make("p", { id: "others", className: "quiet" }));
  if (hello.faults) {
    const box = make("input", { type: "checkbox", id: "faults", checked: true });
    box.addEventListener("change", () => { faults = box.checked; ask(); });
    const words = hello.faults === 1 ? "with the scenario's fault" : `with the scenario's ${hello.faults} faults`;
    form.append(make("p", { className: "check" }, box, make("label", { htmlFor: "faults" }, words)));
  }
  const groups = new Map();
  hello.controls.forEach((it, k) => {
    if (!groups.has(it.group)) {
      const heading = make("summary", {}, make("h2", {}, it.group));
      const group = make("details", { className: "group", open: isWide || groups.size === 0 }, heading);
      groups.set(it.group, make("div", { role: "group", "aria-label": it.group }));
      group.append(groups.get(it.group));
      form.append(group);
    }
    groups.get(it.group).append(control(it, `control-${k}`));
  });
  form.append(make("p", { className: "quiet key" },
    sample([["rect", { x: 1, y: 3, width: 28, height: 8, class: "zone" }], ["path", { d: "M5 11l3 -8M12 11l3 -8M19 11l3 -8", class: "zone" }]]), "periods would beat there  ",
    sample([["path", { d: "M15 2l5 10h-10Z", class: "own" }]]), "as the file has it"));
  form.addEventListener("submit", (event) => event.preventDefault());
}
function sample(parts) {
  const svg = draw("svg", { viewBox: "0 0 30 14", width: 30, height: 14, "aria-hidden": "true" });
  svg.append(...parts.map(([kind, attributes]) => draw(kind, attributes)));
  return svg;
}
