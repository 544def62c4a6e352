"use strict";
// Asks the questions of a new scenario all at once; what is wrong, and what is guessed, comes back.
const hello = JSON.parse(document.getElementById("hello").textContent);
const rows = {};

async function post(name, body) {
  const answer = await fetch(name, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
  return answer.json();
}
function answers() {
  return Object.fromEntries(Object.entries(rows).map(([name, row]) => [name, row.input.value]));
}
function build() {
  hello.form.fields.forEach((it, k) => {
    const id = `question-${k}`;
    const input = make("input", { id, type: "text", spellcheck: false, autocomplete: "off" });
    const problem = make("p", { className: "bad", id: `${id}-problem` });
    input.setAttribute("aria-describedby", problem.id);
    const row = make("div", { className: "question" }, make("label", { htmlFor: id }, it.text), input, problem);
    rows[it.name] = { row, input, problem };
    input.addEventListener("change", look);
    $("form").append(row);
  });
  $("form").addEventListener("submit", (event) => event.preventDefault());
  show(hello.form);
}
function show(form) {
  for (const it of form.fields) {
    const { row, input, problem } = rows[it.name];
    row.hidden = !it.is_asked;
    input.placeholder = it.suggestion;
    input.setAttribute("aria-invalid", String(Boolean(it.problem)));
    problem.textContent = it.problem;
  }
  $("toml").textContent = form.toml || "";
  $("guesses").textContent = form.toml === null ? "The scenario: an answer cannot be used yet" : `The scenario, with ${form.guesses} guesses`;
  $("save").disabled = form.toml === null;
  $("caution").textContent = form.caution;
}
async function look() {
  try {
    const form = await post("form", { answers: answers() });
    if (form.kind === "refused") $("problem").textContent = form.problems.join(" ");
    else { $("problem").textContent = ""; show(form); }
  } catch (error) {
    $("problem").textContent = "The program that you started does not answer.";
  }
}
$("save").addEventListener("click", async () => {
  try {
    const saved = await post("save", { answers: answers(), file: $("file").value });
    if (saved.kind === "refused") $("problem").textContent = saved.problems.join(" ");
    else location.assign(`${saved.place}/`);
  } catch (error) {
    $("problem").textContent = "The program that you started does not answer.";
  }
});
build();
