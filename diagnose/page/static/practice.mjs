// Practice: a machine with a hidden fault. What was asked is kept in this browser, so that a sitting outlives a reload.
import { el, drawn } from "./blocks.mjs";
import { ask } from "./program.mjs";
import { remembered, remember } from "./memory.mjs";

const $ = (id) => document.getElementById(id);
const TITLES = { check: "Do", reading: "Read", seen: "Look at, or ask" };
let state;

export function practice(system) {
  const draw = () => show(system).catch((error) => $("sitting").replaceChildren(el("p", { class: "problem" }, error.message)));
  $("practice").addEventListener("toggle", () => {
    if (!$("practice").open || state) return;
    try { state = JSON.parse(remembered("practice")); } catch { state = null; }
    state ? draw() : begin(system, draw);
  });
}
function keep(changed) { state = changed; remember("practice", JSON.stringify(changed)); }
function begin(system, draw) {
  $("sitting").replaceChildren(el("div", { class: "buttons" },
    el("button", { type: "button", onclick: () => { fresh(false); draw(); } }, "A plain one"), el("button", { type: "button", onclick: () => { fresh(true); draw(); } }, "A hard one")));
}
const fresh = (hard) => keep({ seed: Math.floor(Math.random() * 1e9), hard, asked: [], because: "", said: "" });

async function show(system) {
  const place = $("sitting");
  if (!place.childNodes.length || place.querySelector(".buttons:only-child")) place.replaceChildren(el("p", {}, "A machine is being found."));
  const now = await ask("practice", state.seed, state.hard, state.asked, system());
  if (now.error) { keep(null); remember("practice", ""); state = undefined; place.replaceChildren(...now.error.map((text) => el("p", { class: "problem" }, text))); return; }
  const [[, name], ...facts] = now.machine;
  const again = () => show(system);
  const table = el("table", {}, el("caption", {}, "What is known"), ...now.known.map((k) => el("tr", {}, el("th", { scope: "row" }, k.name), el("td", {}, k.value, k.note ? el("span", { class: "hint" }, ` ${k.note}`) : null))));
  const choose = el("select", { id: "practice-ask" }, el("option", { value: "" }, "choose"), ...Object.entries(TITLES).map(([kind, title]) =>
    el("optgroup", { label: title }, ...now.actions.filter((a) => a.kind === kind).map((a) => el("option", { value: a.name }, `${a.label} (${a.minutes} min)`)))));
  choose.addEventListener("change", async () => {
    const label = choose.selectedOptions[0].textContent;
    keep({ ...state, asked: [...state.asked, choose.value] });
    await again();
    $("practice-ask").focus();
    $("practice-told").textContent = `Had: ${label}. `;
  });
  const answer = el("select", { id: "practice-answer" }, el("option", { value: "" }, "choose"), ...now.answers.map(([id, text]) => el("option", { value: id }, text)));
  answer.value = state.said;
  const because = el("textarea", { id: "practice-because", rows: "2" });
  because.value = state.because;
  because.addEventListener("input", () => keep({ ...state, because: because.value }));
  answer.addEventListener("change", () => keep({ ...state, said: answer.value }));
  const judged = el("article", { id: "practice-judged", tabindex: "-1", class: "blocks" });
  const give = el("button", { type: "button", onclick: async () => {
    if (!answer.value) { $("practice-told").textContent = "Choose an answer first. "; answer.focus(); return; }
    const found = await ask("practice_answer", state.seed, state.hard, state.asked, answer.value, because.value, system());
    judged.replaceChildren(...(found.blocks?.map(drawn) ?? found.error.map((text) => el("p", { class: "problem" }, text))),
      el("div", { class: "buttons" }, el("button", { type: "button", onclick: () => { fresh(state.hard); again(); } }, "Another one")));
    for (const part of [choose, answer, because, give]) part.disabled = true;
    remember("practice", "");
    judged.focus();
  } }, "This is my answer");
  place.replaceChildren(el("h3", {}, name), el("p", {}, now.complaint), el("p", { class: "hint" }, facts.map(([fact, value]) => `${fact} ${value}`).join(", ")),
    el("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": "What is known" }, table),
    el("p", { role: "status" }, el("span", { id: "practice-told" }), `${now.minutes} minutes of work so far.`),
    el("label", { for: "practice-ask" }, "Ask for more"), choose,
    el("label", { for: "practice-answer" }, "What is wrong with it"), answer,
    el("label", { for: "practice-because" }, "Why you think so"), because,
    el("div", { class: "buttons" }, give, el("button", { type: "button", onclick: () => { fresh(state.hard); again(); } }, "Another machine")), judged);
}
