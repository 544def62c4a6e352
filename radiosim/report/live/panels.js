"use strict";
// What takes seconds (a cure, recommended settings), and what is taken away: text, and the file.
let study = null;

async function studied(kind) {
  stopStudy();
  study = new AbortController();
  const mine = study;
  $("study-found").replaceChildren();
  $("study-progress").textContent = "Begins";
  $("study-stop").hidden = false;
  try {
    await eachLine(await post(kind, question(), mine.signal), (said) => {
      if (mine !== study) return;
      if (said.kind === "progress") {
        const of = said.total === null ? "" : ` of ${said.total}`;
        $("study-progress").textContent = `${said.done}${of} ${said.what}`;
      }
      if (said.kind === kind) showStudy(said);
      if (said.kind === "refused") $("study-progress").textContent = said.problems.join(" ");
      if (said.kind === "done") $("study-progress").textContent = "Done, for the settings as they stand above";
    });
  } catch (error) {
    if (mine === study) $("study-progress").textContent = "The program that you started does not answer.";
  }
  if (mine === study) $("study-stop").hidden = true;
}
function stopStudy() {
  if (study) study.abort();
  study = null;
  $("study-stop").hidden = true;
  $("study-progress").textContent = "";
}
function showStudy(said) {
  const parts = [make("p", {}, make("strong", {}, said.verdict))];
  if (said.lines.length) {
    const button = make("button", { type: "button" }, said.lines.length === 1 ? "Take this line over" : `Take these ${said.lines.length} lines over`);
    button.addEventListener("click", () => takeOver(said.lines));
    parts.push(make("pre", { tabIndex: 0 }, said.lines.join("\n")), button);
  }
  parts.push(...said.sections.map(section), ...(said.cautions || []).map((text) => make("p", { className: "quiet" }, `Caution: ${text}`)));
  $("study-found").replaceChildren(...parts);
}
function section(it) {
  const said = it.sentences.map((one) => one.form === "code" ? make("pre", { tabIndex: 0 }, one.text)
    : make("p", { className: one.role || "" }, one.lead ? `${one.lead}: ${one.text}` : one.text));
  return make("details", {}, make("summary", {}, it.heading || "More"), ...said, ...it.tables.map(table));
}
function table(it) {
  const head = make("tr", {}, ...it.columns.map((column) => make("th", { scope: "col" }, column.title)));
  const rows = it.rows.map((row) => make("tr", {}, ...row.map((cell, k) => make("td", { className: `${cell.role || ""} ${it.columns[k].is_text ? "text" : "number"}` }, cell.text))));
  return make("div", { className: "wide", tabIndex: 0 }, make("table", {}, ...(it.caption ? [make("caption", {}, it.caption)] : []), make("thead", {}, head), make("tbody", {}, ...rows)), make("p", { className: "quiet" }, it.note));
}
function takeOver(lines) {
  for (const line of lines) {
    const key = line.slice(0, line.indexOf("="));
    const it = hello.controls.find((one) => one.key === key);
    extra = extra.filter((one) => !one.startsWith(`${key}=`));
    extra.push(line);
    if (it) put(it, it.words.length ? line.slice(key.length + 1) : Number(line.slice(key.length + 1)));
  }
  ask();
  $("answer").scrollIntoView();
}
document.addEventListener("asked", () => {
  if (study) stopStudy();
  if ($("study-found").firstChild) $("study-progress").textContent = "What stands below is of other settings";
});
$("study-cure").addEventListener("click", () => studied("cure"));
$("study-tune").addEventListener("click", () => studied("tune"));
$("study-stop").addEventListener("click", stopStudy);

// ---- taking away ---------------------------------------------------------------------------------
let taken = null;
async function takeAway() {
  taken = await (await post("text", question())).json();
  const isKnown = taken.kind !== "refused";
  $("command").textContent = isKnown ? taken.command : "";
  $("difference").textContent = isKnown ? taken.difference || "" : "";
  $("copy-text").disabled = !isKnown || taken.toml === null;
  $("write").hidden = !isKnown || !taken.can_write;
}
async function copy(text, what) {
  try {
    await navigator.clipboard.writeText(text);
    $("copied").textContent = `${what} copied.`;
  } catch (error) {
    getSelection().selectAllChildren($("command"));
    $("copied").textContent = "Selected: copy it with the keyboard.";
  }
}
$("copy-command").addEventListener("click", () => copy(taken.command, "The command is"));
$("copy-text").addEventListener("click", () => copy(taken.toml, "The scenario is"));
$("copy-link").addEventListener("click", () => copy(carried() || "#", "The end of the link is"));
$("write").addEventListener("click", () => { $("sure-text").textContent = taken.difference; $("sure").showModal(); });
$("sure-no").addEventListener("click", () => $("sure").close());
$("sure-yes").addEventListener("click", async () => {
  const answer = await (await post("write", question())).json();
  $("sure").close();
  if (answer.written) location.reload();
  else $("copied").textContent = `Not written: ${answer.problems.join(" ")}`;
});
