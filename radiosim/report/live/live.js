"use strict";
// Asks for the newest settings and shows what comes, line by line. No other address is ever asked;
// texts of the scenario only ever become text nodes.
const page = crypto.getRandomValues(new Uint32Array(3)).join("-");
const PATIENCE_MS = 250, STALE_MS = 200, MOST_KEPT = 8;

// ---- asking --------------------------------------------------------------------------------------
let running = null, waits = 0, staleTimer = 0, movedAt = performance.now();

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
// While a slider is dragged each answer may give its first look; one that takes too long is left.
function ask() {
  record();
  movedAt = performance.now();
  document.dispatchEvent(new Event("asked"));
  clearTimeout(staleTimer);
  staleTimer = setTimeout(stale, STALE_MS);
  clearTimeout(waits);
  const left = running && !running.looks ? running.begun + PATIENCE_MS - performance.now() : 0;
  waits = left > 0 ? setTimeout(begin, left) : 0;
  if (!waits) begin();
}
async function begin() {
  clearTimeout(waits);
  waits = 0;
  if (running) running.control.abort();
  const mine = running = { control: new AbortController(), asked: question(), looks: 0, begun: performance.now(), since: movedAt };
  document.body.dataset.state = "asking";
  figures.begin();
  try {
    await eachLine(await post("answer", mine.asked, mine.control.signal), (said) => { if (mine === running) show(said, mine); });
    if (mine !== running) return;
    running = null;
    document.body.dataset.state = "done";
    if (waits) begin(); else askWhatWas();
  } catch (error) {
    if (mine !== running) return;
    running = null;
    document.body.dataset.state = "done";
    tell("The program that you started does not answer.", "ill");
  }
}

// ---- as it was -----------------------------------------------------------------------------------
const kept = new Map();
const keyOf = (asked) => JSON.stringify([asked.set, asked.lines, asked.faults]);
const ofFile = { set: {}, lines: [], faults: true };
let before = ofFile, shownLook = null;

function keep(asked, look) {
  const key = keyOf(asked), looks = kept.get(key) || new Map();
  looks.set(look.number, look);
  kept.delete(key);
  kept.set(key, looks);
  for (const old of kept.keys()) if (kept.size > MOST_KEPT && old !== keyOf(before)) kept.delete(old);
}
function whatWas(look) {
  if (keyOf(question()) === keyOf(before)) return null;
  const was = kept.get(keyOf(before));
  return (was && was.get(look.number)) || null;
}
// The starts of what it is compared with, if none of this page's answers was of them.
async function askWhatWas() {
  if (keyOf(question()) === keyOf(before) || !shownLook || whatWas(shownLook)) return;
  const asked = { ...before, page: `${page}-was`, digest: hello.digest }, control = new AbortController();
  try {
    await eachLine(await post("answer", asked, control.signal), (said) => {
      if (said.kind !== "look") return;
      keep(asked, said);
      if (shownLook && said.number === shownLook.number) showStreams(shownLook);
      if (said.is_last) control.abort();
    });
  } catch (error) {
    // Left once the last look is there.
  }
}
$("compare").addEventListener("click", () => {
  before = { set: question().set, lines: [...extra], faults };
  $("before").textContent = isOfFile() ? "Compared with the file." : `Compared with the settings of ${new Date().toLocaleTimeString()}.`;
  if (shownLook) showStreams(shownLook);
});

// ---- showing -------------------------------------------------------------------------------------
function list(place, items) {
  place.replaceChildren(...items.map((it) => make("li", {}, ...[it].flat())));
}
function tell(text, state) {
  $("verdict").textContent = text;
  $("verdict").className = `verdict ${state}`;
}
function stale() {
  document.body.classList.add("stale");
  $("progress").textContent = "Working on the new settings; what stands here is of those before.";
  figures.stale();
}
function show(said, mine) {
  if (said.kind === "foretold") {
    list($("pairs"), said.pairs.map((it) => it.text));
    said.figures.forEach(figures.show);
  }
  if (said.kind === "refused") {
    clearTimeout(staleTimer);
    tell(said.problems.join(" "), "ill");
    $("progress").textContent = "Nothing was simulated; what stands below is of the settings before.";
    for (const it of hello.controls) if (said.problems.join(" ").includes(it.key)) complain(it, said.problems.join(" "));
    $("spoken").textContent = said.problems.join(" ");
  }
  if (said.kind === "look") {
    keep(mine.asked, said);
    showLook(said);
    said.figures.forEach(figures.show);
    figures.stale();
    mine.looks++;
    if (mine.looks === 1) {
      requestAnimationFrame(() => performance.measure("first answer", { start: mine.since, end: performance.now() }));
      takeAway();
      if (waits) begin();
    }
  }
  if (said.kind === "figure") figures.show(said.figure);
  if (said.kind === "meet") marks.show(said.marks);
  if (said.kind === "done") figures.end();
}
const STATES = { holds: "holds", failed: "FAILED", open: "open" };
function showLook(look) {
  clearTimeout(staleTimer);
  document.body.classList.remove("stale");
  tell(look.verdict, { true: "well", false: "ill" }[look.is_well] || "open");
  $("share").max = look.of;
  $("share").value = look.starts;
  $("progress").textContent = look.is_last ? `All ${look.of} starts, as radiosim run has them` : `${look.starts} of ${look.of} starts so far`;
  if (look.is_last) $("spoken").textContent = `${look.verdict} ${look.streams.map((it) => `${it.name}: ${it.figures[0].title} ${it.figures[0].text}`).join("; ")}`;
  list($("glance"), look.streams.map((it) => [`${it.name} `, make("b", {}, it.figures[0].text)]));
  $("answers").replaceChildren(...look.answers.map((it) => make("div", {}, make("dt", {}, it.question), make("dd", { className: it.is_good === false ? "bad" : "" }, it.text))));
  list($("requirements"), look.requirements.map((it) => [make("b", { className: { holds: "good", failed: "bad" }[it.state] || "" }, STATES[it.state]), ` ${it.figure} is ${it.is}, ${it.asked} asked${it.why ? `: ${it.why}` : ""}`]));
  list($("hazards"), look.hazards.map((it) => it.is_final ? it.text : `so far: ${it.text}`));
  for (const id of ["requirements", "hazards"]) $(`${id}-part`).hidden = !look[id].length;
  showStreams(look);
}
function showStreams(look) {
  shownLook = look;
  const was = whatWas(look);
  const cards = [["streams", look.streams], ["outputs", look.outputs]].flatMap(([of, all]) =>
    all.map((it) => card(it, was && was[of].find((other) => other.name === it.name), look, of === "outputs" && hello.streams.includes(it.name) ? `output ${it.name}` : it.name)));
  $("streams").replaceChildren(...cards);
  $("streams").classList.toggle("compared", Boolean(was));
}
function card(it, was, look, name) {
  const head = make("tr", {}, make("th", { scope: "col" }, make("span", { className: "hidden" }, "figure")), make("th", { scope: "col" }, "as it is"));
  if (was) head.append(make("th", { scope: "col" }, "as it was"));
  const figureRows = it.figures.flatMap((of) => {
    const notes = [of.note, was && of.key === "gap_ms.max" ? moved(it, was, look) : ""].filter(Boolean);
    const cells = [make("th", { scope: "row" }, of.title), make("td", {}, of.text)];
    if (was) cells.push(make("td", {}, (was.figures.find((other) => other.key === of.key) || { text: "–" }).text));
    const row = make("tr", { className: notes.length ? "has-note" : "" }, ...cells);
    return notes.length ? [row, make("tr", { className: "note" }, make("td", { colSpan: cells.length }, notes.join("; ")))] : [row];
  });
  const words = it.verdict ? [make("span", { className: "word" }, it.verdict)] : [];
  return make("section", { className: "card" }, make("h3", {}, name, ...words),
    make("table", { "aria-label": `Figures of ${name}` }, make("thead", {}, head), make("tbody", {}, ...figureRows)));
}
// Start by start, on the same draws.
function moved(it, was, look) {
  const pairs = it.longest_ms.map((ms, k) => ms - was.longest_ms[k]);
  const shorter = pairs.filter((by) => by < 0).length, longer = pairs.filter((by) => by > 0).length;
  return `on the same draws shorter in ${shorter} and longer in ${longer} of ${pairs.length} ${look.of > 1 ? "starts" : "start"} than it was`;
}

build();
readLink();
addEventListener("hashchange", () => {
  // A step to a part of the page is no link with settings.
  if (location.hash && !location.hash.includes("=")) { carry(); return; }
  readLink();
  ask();
});
ask();
