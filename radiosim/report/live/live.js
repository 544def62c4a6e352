"use strict";
// Asks for the newest settings and shows what comes, line by line. No other address is ever asked;
// texts of the scenario only ever become text nodes.
const hello = JSON.parse(document.getElementById("hello").textContent);
const page = String(Math.random()).slice(2);
const now = Object.fromEntries(hello.controls.map((it) => [it.key, it.now]));
const setters = {};
let faults = true;
let extra = [];
let asking = null;

function list(place, items) {
  place.replaceChildren(...items.map((it) => make("li", {}, it)));
}

function put(it, value) {
  now[it.key] = value;
  setters[it.key](value);
}
function nearest(values, value) {
  return values.reduce((best, it, k) => Math.abs(it - value) < Math.abs(values[best] - value) ? k : best, 0);
}

// ---- controls ------------------------------------------------------------------------------------
function control(it, id) {
  const row = make("div", { className: "control" }, make("label", { htmlFor: id, title: it.meaning }, it.name));
  const set = (value) => { put(it, value); ask(); };
  if (it.words.length) {
    const choice = make("select", { id }, ...it.words.map((word) => make("option", { selected: word === it.now }, word)));
    choice.addEventListener("change", () => set(choice.value));
    setters[it.key] = (value) => { choice.value = value; row.classList.toggle("changed", value !== it.now); };
    row.append(choice);
    return row;
  }
  const own = it.values.indexOf(it.now);
  const range = make("input", { type: "range", id, min: 0, max: it.values.length - 1, step: 1 });
  const number = make("input", { type: "number", step: "any", value: it.now, ariaLabel: `${it.group} ${it.name}` });
  range.value = own;
  setters[it.key] = (value) => {
    number.value = value;
    range.value = nearest(it.values, value);
    row.classList.toggle("changed", value !== it.now);
  };
  range.addEventListener("input", () => set(it.values[range.valueAsNumber]));
  number.addEventListener("change", () => {
    if (Number.isFinite(number.valueAsNumber)) set(number.valueAsNumber);
  });
  row.append(number, make("span", { className: "quiet" }, it.unit), range);
  return row;
}
function build() {
  if (hello.faults) {
    const box = make("input", { type: "checkbox", id: "faults", checked: true });
    box.addEventListener("change", () => { faults = box.checked; ask(); });
    $("controls").append(make("p", {}, box, make("label", { htmlFor: "faults" }, " with the scenario's faults")));
  }
  let group = null;
  hello.controls.forEach((it, k) => {
    if (group === null || group.name !== it.group) {
      group = make("fieldset", {}, make("legend", {}, it.group));
      group.name = it.group;
      $("controls").append(group);
    }
    group.append(control(it, `control-${k}`));
  });
  $("controls").addEventListener("submit", (event) => event.preventDefault());
}

// ---- asking --------------------------------------------------------------------------------------
function question() {
  const keys = extra.map((line) => line.slice(0, line.indexOf("=")));
  const changed = hello.controls.filter((it) => now[it.key] !== it.now || keys.includes(it.key));
  return { page, digest: hello.digest, set: Object.fromEntries(changed.map((it) => [it.key, now[it.key]])), lines: extra, faults };
}
function post(name, body, signal) {
  return fetch(name, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), signal });
}
async function eachLine(answer, act) {
  const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { done, value } = await reader.read();
    const lines = (rest + (value || "")).split("\n");
    rest = done ? "" : lines.pop();
    for (const line of lines) if (line) act(JSON.parse(line));
    if (done) return;
  }
}
async function ask() {
  if (asking) asking.abort();
  asking = new AbortController();
  const mine = asking;
  document.dispatchEvent(new Event("asked"));
  try {
    await eachLine(await post("answer", question(), mine.signal), (said) => { if (mine === asking) show(said); });
  } catch (error) {
    if (mine === asking) $("progress").textContent = "The program that you started does not answer.";
  }
}

// ---- showing -------------------------------------------------------------------------------------
function show(said) {
  if (said.kind === "foretold") {
    list($("pairs"), said.pairs.map((it) => it.text));
    said.figures.forEach(figures.show);
  }
  if (said.kind === "refused") {
    $("verdict").className = "verdict ill";
    $("verdict").textContent = said.problems.join(" ");
  }
  if (said.kind === "look") {
    showLook(said);
    if (said.number === 1) takeAway();
  }
  if (said.kind === "figure") figures.show(said.figure);
}
function showLook(look) {
  $("verdict").className = `verdict ${{ true: "well", false: "ill" }[look.is_well] || ""}`;
  $("verdict").textContent = look.verdict;
  $("progress").textContent = `${look.starts} of ${look.of} starts`;
  if (look.is_last) $("spoken").textContent = look.verdict;
  list($("answers"), look.answers.map((it) => `${it.question} ${it.text}`));
  list($("requirements"), look.requirements.map((it) => `${it.state}: ${it.figure} ${it.is}, ${it.asked} asked${it.why ? `: ${it.why}` : ""}`));
  list($("hazards"), look.hazards.map((it) => it.is_final ? it.text : `so far: ${it.text}`));
  $("streams").replaceChildren(...[...look.streams, ...look.outputs].map((it) => make("section", {},
    make("h2", {}, it.verdict ? `${it.name}: ${it.verdict}` : it.name),
    make("dl", {}, ...it.figures.flatMap((of) => [make("dt", {}, of.title), make("dd", {}, [of.text, of.note].filter(Boolean).join(", "))])))));
  look.figures.forEach(figures.show);
}
build();
ask();
