// The page: fields in, answer out. What the fields are, what they mean and what is answered comes from the program (worker.mjs);
// here is only where things stand, what is kept (store.mjs), and when to ask again.
import { change, all, remove, persist } from "./store.mjs";
import { el, drawn, sentence, words } from "./blocks.mjs";
import { ask, begun } from "./program.mjs";
import { remembered, remember } from "./memory.mjs";
import { whatIf, turnTo, presets } from "./whatif.mjs";
import { practice } from "./practice.mjs";
import { news } from "./news.mjs";
import { outbox, stateOf } from "./outbox.mjs";

const $ = (id) => document.getElementById(id);
const SYSTEMS = { us: "US", si: "SI" };
let record = fresh();
let form = null;
let keeps = true;

// -- the visit ----------------------------------------------------------------------------------------------------------------
function fresh(machine = {}) {
  return { id: crypto.randomUUID(), created: Date.now(), system: remembered("system") ?? "us", visit: { machine, readings: {}, seen: {} }, rounds: [] };
}
function visit(of = record) {
  const { readings = {}, ...rest } = of.visit;
  const rounds = of.rounds?.length ? [...of.rounds, readings] : readings;
  return { ...dated(of), ...rest, readings: rounds };
}
// The day it was begun, until another is given; of a file that says none nobody knows it.
const dated = (of) => (of.imported ? {} : { date: local(of.created) });
const local = (time) => new Date(time - new Date(time).getTimezoneOffset() * 60000).toISOString().slice(0, 16).replace("T", " ");
const parts = (path) => { const [section, ...names] = path.split("/"); return [section, ...names]; };
function put(target, path, value) {
  const names = parts(path);
  let at = target;
  for (const name of names.slice(0, -1)) at = at[name] ??= {};
  const last = names.at(-1);
  if (value === "" || value == null) delete at[last]; else at[last] = value;
}
const get = (target, path) => parts(path).reduce((at, name) => at?.[name], target);

// Every change is written as soon as it is made; what could not be written is written with the next one that can.
let unwritten = [];
let keeping = Promise.resolve();
function keep(alter) {
  alter(record);
  unwritten.push({ id: record.id, alter });
  keeping = keeping.then(write);
  return keeping;
}
async function write() {
  if (!unwritten.length) return;
  const { id } = unwritten[0];
  const due = unwritten.filter((one) => one.id === id);  // what is typed while these are written comes with the next
  try {
    const stored = await change(id, (kept) => {
      if (!kept.visit.machine && record.id === id) Object.assign(kept, structuredClone(record));
      for (const { alter } of due) alter(kept);
    });
    unwritten = unwritten.filter((one) => !due.includes(one));
    if (record.id === id) {
      record = stored;
      for (const one of unwritten) if (one.id === id) one.alter(record);
      remember("open", id);
    }
    others?.postMessage(id);
    if (!keeps) tell("");
    keeps = true;
    await write();
  } catch (error) {
    keeps = false;
    tell(cannotKeep(error));
  }
}
const cannotKeep = (error) => error?.name === "QuotaExceededError"
  ? "The storage of this phone is full: what you typed last is not kept. Delete old visits, or save this one as a file before you close the page."
  : "This window keeps nothing (private mode, or storage is switched off). Save the visit as a file before you close it.";
// Another tab with the same visit: what is typed there shows here.
const others = "BroadcastChannel" in window ? new BroadcastChannel("visits") : null;
others?.addEventListener("message", async ({ data }) => {
  if (data !== record.id || unwritten.length) return;
  const stored = (await all().catch(() => [])).find((r) => r.id === data);
  if (!stored || record.id !== data || unwritten.length || JSON.stringify(stored.visit) === JSON.stringify(record.visit)) return;
  record = stored;
  show();
  look();
});
function tell(text, ...more) { const banner = $("banner"); banner.replaceChildren(text, ...more); banner.hidden = !text; }

// -- the form -----------------------------------------------------------------------------------------------------------------
const OPEN = ["Machine", "Air side", "What is seen", "Gauges and lines"];
function build() {
  $("form").replaceChildren(...form.groups.map((group) => el("details", { open: OPEN.includes(group.title), "data-group": group.title },
    el("summary", {}, group.title), el("fieldset", {}, el("legend", { class: "away" }, group.title), ...group.fields.map(field)))));
  $("fault").replaceChildren(...Object.entries(form.faults).map(([id, name]) => el("option", { value: id }, name)));
  $("book").textContent = `Rule book: ${form.book}`;
}
const idOf = (path) => `f-${path.replaceAll(/[^a-z0-9]+/gi, "-")}`;
function field(f) {
  const id = idOf(f.path);
  const hint = el("p", { class: "hint", id: `${id}-hint` }, f.hint);
  const problem = el("p", { class: "problem", id: `${id}-problem`, role: "alert", hidden: true });
  const box = el("div", { class: "field", "data-path": f.path, "data-modes": f.modes.join(" ") });
  if (f.choices?.length) {
    const choose = el("select", { id, "aria-describedby": `${id}-hint ${id}-problem`, onchange: (e) => typed(f, e.target.value) },
      el("option", { value: "" }, "not said"), ...f.choices.map((c) => el("option", { value: c }, c)));
    box.append(el("label", { for: id }, f.label), choose, hint, problem);
    return box;
  }
  const number = Boolean(f.units?.length);
  const unit = number ? el("select", { id: `${id}-unit`, "aria-label": `Unit of ${f.label}`, onchange: () => { units(f); typed(f, value(f)); } }, ...f.units.map((u) => el("option", {}, u))) : null;
  const input = el("input", { id, type: "text", inputmode: number && !f.below ? "decimal" : number ? "text" : null, "aria-describedby": `${id}-hint ${id}-problem`,
    autocapitalize: "off", spellcheck: "false", oninput: () => later(() => typed(f, value(f)), f.path), onblur: () => now(f.path) });
  if (number && f.below) input.setAttribute("inputmode", "decimal");
  box.append(el("label", { for: id }, f.label, unit ? el("span", { class: "away", "data-unit": id }) : null), el("div", { class: "entry" }, input, unit), hint, problem);
  return box;
}
// The unit belongs to the label too: what stands beside a field is not read aloud with it.
function units(f) { document.querySelector(`[data-unit="${idOf(f.path)}"]`).textContent = `, in ${$(`${idOf(f.path)}-unit`).value}`; }
const fields = () => form.groups.flatMap((g) => g.fields);
function value(f) {
  const written = $(idOf(f.path)).value.trim();
  const unit = $(`${idOf(f.path)}-unit`)?.value ?? "";
  return written && unit && /^[-+−]?[\d.,\s/]+$/.test(written) ? `${written.replace("−", "-")} ${unit}` : written;
}
function show() {
  for (const f of fields()) {
    const input = $(idOf(f.path));
    let text = get(record.visit, f.path) ?? "";
    text = String(text);
    const unit = $(`${idOf(f.path)}-unit`);
    if (unit) {
      const own = [...f.units].sort((a, b) => b.length - a.length).find((u) => text.endsWith(` ${u}`));
      unit.value = own ?? f[record.system];
      if (own) text = text.slice(0, -own.length - 1);
    }
    if (unit) units(f);
    if (document.activeElement !== input) input.value = text;
  }
  for (const name of ["complaint", "notes", "done"]) $(name).value = [record.visit[name] ?? ""].flat().join("\n");
  $("date").value = (visit().date ?? "").replace(" ", "T");
  $("title").textContent = record.visit.machine?.name || "New visit";
  $("units").textContent = SYSTEMS[record.system];
  $("units").setAttribute("aria-label", `Units: ${SYSTEMS[record.system]}. Change to ${SYSTEMS[record.system === "us" ? "si" : "us"]}`);
  modes();
  rounds();
}
function modes() {
  const mode = record.visit.machine?.mode ?? "cooling";
  for (const box of document.querySelectorAll(".field")) box.hidden = !box.dataset.modes.split(" ").includes(mode) && !get(record.visit, box.dataset.path);
}

// -- typing -------------------------------------------------------------------------------------------------------------------
const timers = new Map();
function later(work, key) { clearTimeout(timers.get(key)?.timer); timers.set(key, { work, timer: setTimeout(() => now(key), 250) }); }
function now(key) { const due = timers.get(key); if (!due) return; clearTimeout(due.timer); timers.delete(key); due.work(); }
function flush() { for (const key of [...timers.keys()]) now(key); }
addEventListener("pagehide", flush);
async function typed(f, text) {
  await keep((r) => put(r.visit, f.path, text));
  if (f.path === "machine/name") $("title").textContent = text || "New visit";
  if (f.path === "machine/mode") modes();
  await look();
}

// -- the answer ---------------------------------------------------------------------------------------------------------------
const REASONS = ["Because", "Perhaps because", "But"];
const BESIDES = ["Assumed:", "Good day:", "Machine:", "Care:"];  // folded away with the reasons, where there are any
let asked = 0;
let about = "";
async function look() {
  const mine = ++asked;
  const answer = await ask("look", visit(), record.system);
  if (mine !== asked) return;
  window.answer = answer;
  problems(answer);
  const lines = (answer.screen ?? []).map((block) => {
    const kind = block.lead === "STOP:" ? "stop" : block.lead === "Danger:" ? "danger" : block.kind === "answer" ? "said" : "";
    return el("p", { class: kind }, ...sentence(block));
  });
  const reasoned = (answer.screen ?? []).some((block) => REASONS.includes(block.lead));
  const folded = (block) => reasoned && [...REASONS, ...BESIDES].includes(block.lead);
  const top = lines.filter((_, i) => answer.screen[i].lead !== "Next:" && !folded(answer.screen[i]));
  const rest = lines.filter((_, i) => folded(answer.screen[i]));
  const ranked = answer.ranked?.length ? el("ol", { id: "ranked" }, ...answer.ranked.map((r) => el("li", {}, `${r.name}: share ${r.share.toFixed(2)}, ${r.strength}`))) : null;
  $("answer").replaceChildren(...(answer.error ?? answer.wrong ?? []).map((text) => el("p", { class: "problem" }, ...words(text))), ...top,
    rest.length || ranked ? el("details", { open: $("answer").querySelector("details")?.open ?? false }, el("summary", {}, "Why, and how sure"), ...rest, ranked, el("div", { id: "turning" })) : "");
  $("answer").querySelector("details")?.addEventListener("toggle", sensitivity);
  $("bar").replaceChildren(...top.filter((line) => line.matches(".stop, .said")).map((line) => el("p", { class: line.className }, el("span", {}, line.textContent))));
  speak([...(answer.error ?? answer.wrong ?? []), ...top.map((line) => line.textContent)].join(" "));
  sensitivity();
  const changed = about === record.id ? answer.changed : "";  // another visit is no change of this one
  about = record.id;
  $("changed").textContent = changed ?? "";
  $("changed").hidden = !changed;
  next(answer);
  if (answer.first) $("fault").value = answer.first;
  await keepAnswer(answer);
}
// A screen reader says the dangers and the verdict once, when they change, and nothing of what can be folded out.
function speak(text) { if ($("spoken").textContent !== text) $("spoken").textContent = text; }
// What one reading, a little off, would change: only where somebody looks, for it takes a dozen passes.
async function sensitivity() {
  const place = $("turning");
  if (!place?.closest("details").open) return;
  const told = await ask("told", "sensitivity", visit(), record.system);
  if (place === $("turning")) place.replaceChildren(...(told.blocks ?? []).map(drawn));
}
async function keepAnswer(answer) {
  const said = answer.screen?.find((b) => b.kind === "answer")?.text ?? "";
  if (said !== record.answer) await keep((r) => { r.answer = said; });
}
function problems(answer) {
  for (const box of document.querySelectorAll(".field")) {
    const text = answer.problems?.[box.dataset.path];
    const problem = box.querySelector(".problem");
    box.classList.toggle("wrong", Boolean(text));
    problem.hidden = !text;
    if (problem.textContent !== (text ?? "")) problem.textContent = text ?? "";
    box.querySelector("input, select").setAttribute("aria-invalid", Boolean(text));
  }
}
// Where no check is worth its time, the repair begins.
function next({ checks = [], screen = [] }) {
  const section = $("next");
  const [check] = checks;
  const told = check ? [el("p", {}, ...words(`${check.ask} (${check.minutes}\u00a0min)`)), el("p", { class: "hint" }, ...words(check.why)),
    check.fields.length ? el("div", { class: "buttons" }, ...check.fields.map((path) => el("button", { type: "button", onclick: () => go(path) }, fields().find((f) => f.path === path)?.label ?? path))) : null]
    : screen.filter((block) => block.lead === "Next:").map((block) => el("p", {}, ...words(block.text)));
  section.hidden = !told.length;
  if (section.contains(document.activeElement)) return;
  section.replaceChildren(...(told.length ? [el("div", { class: "card" }, el("h2", {}, "Next"), ...told)] : []));
}
function go(path) {
  const box = document.querySelector(`[data-path="${CSS.escape(path)}"]`);
  if (!box) return;
  box.hidden = false;
  box.closest("details").open = true;
  box.scrollIntoView({ block: "center" });
  box.querySelector("input, select").focus({ preventScroll: true });
}

// -- pages on demand ------------------------------------------------------------------------------------------------------------
async function page(what, ...more) {
  const told = $("told");
  told.replaceChildren(el("p", {}, "One moment."));
  const answer = await ask("told", what, visit(), record.system, ...more);
  told.replaceChildren(...(answer.blocks?.map(drawn) ?? answer.error.map((text) => el("p", { class: "problem" }, ...words(text)))));
  if (!told.childNodes.length) told.append(el("p", {}, "The readings allow no picture yet."));
  await offerToTurn(what, told);
  told.focus();
}
// On top of the lesson of a fault: its own machine of the simulator with this fault, to be predicted before the figures are read.
async function offerToTurn(what, told) {
  const fault = what === "lesson" ? window.answer?.first : what.startsWith("lesson ") ? what.slice(7) : "";
  const devices = Object.keys((await presets())[fault] ?? {});
  if (!devices.length) return;
  told.firstElementChild.after(el("div", { class: "buttons" }, ...devices.map((device) => el("button", { type: "button", class: "turn-to", onclick: () => turnTo(fault, device, form.faults[fault], () => record.system) }, `Predict it on a ${device} machine, then see`))));
}
// A lesson on paper names the place: #what-if/low-charge/TXV
async function turnAsAsked() {
  const [, fault, device] = decodeURIComponent(location.hash).match(/^#what-if\/([^/]+)\/([^/]+)$/) ?? [];
  if (fault && (await presets())[fault]?.[device]) turnTo(fault, device, form.faults[fault], () => record.system);
}
const sheet = document.documentElement.classList;
addEventListener("afterprint", () => sheet.remove("sheet"));
$("pages").addEventListener("click", async (e) => {
  const what = e.target.dataset.page;
  if (!what) return;
  await page(what);
  if (what.startsWith("report ")) { sheet.add("sheet"); print(); }
});
$("why").addEventListener("click", () => page(`why ${$("fault").value}`));
$("teach").addEventListener("click", () => page(`lesson ${$("fault").value}`));

// -- running time and rounds ------------------------------------------------------------------------------------------------------
$("run").addEventListener("click", async () => { await keep((r) => { r.started = Date.now(); r.rounds = []; delete r.visit.readings?.["minutes running"]; }); show(); tick(); });
$("round").addEventListener("click", async () => {
  await keep((r) => {
    const minutes = r.visit.readings["minutes running"] ?? `${Math.round((Date.now() - r.started) / 60000)} min`;
    r.rounds.push({ ...r.visit.readings, "minutes running": minutes });
    r.visit.readings = { "minutes running": "" };
    delete r.visit.readings["minutes running"];
  });
  show();
  look();
});
function rounds() {
  $("round").hidden = !record.started || !Object.keys(record.visit.readings ?? {}).length;
  $("rounds").textContent = record.rounds?.length ? `Kept rounds: ${record.rounds.map((r) => r["minutes running"]).join(", ")}.` : "";
}
function tick() {
  if (!record.started) { $("clock").textContent = ""; return; }
  const minutes = (Date.now() - record.started) / 60000;
  $("clock").textContent = minutes < 15 ? `${Math.floor(minutes)} min running; read at 15` : `${Math.floor(minutes)} min running: read now, and again in five`;
}
setInterval(tick, 5000);

// -- units, remarks, the good day ---------------------------------------------------------------------------------------------------
$("units").addEventListener("click", async () => {
  const to = record.system === "us" ? "si" : "us";
  const turned = await ask("in_system", visit(), to);
  await keep((r) => {
    r.system = to;
    if (turned.error) return;
    const last = Array.isArray(turned.readings) ? turned.readings.at(-1) : turned.readings;
    r.rounds = Array.isArray(turned.readings) ? turned.readings.slice(0, -1) : [];
    r.visit = { ...r.visit, machine: turned.machine ?? {}, readings: last ?? {} };
  });
  remember("system", to);
  show();
  look();
});
for (const name of ["complaint", "notes", "done"]) $(name).addEventListener("input", (e) => later(() => keep((r) => {
  const lines = e.target.value.split("\n").map((l) => l.trim()).filter(Boolean);
  put(r.visit, name, name === "done" ? (lines.length ? lines : "") : e.target.value.trim());
}), name));
$("date").addEventListener("change", (e) => { if (e.target.value) keep((r) => put(r.visit, "date", e.target.value.slice(0, 16).replace("T", " "))); });
$("compare").addEventListener("click", async () => {
  const from = (await all().catch(() => [])).find((r) => r.id === $("before").value);
  if (from) page("compare", visit(from));
  else $("told").replaceChildren(el("p", {}, "Choose the visit before the repair first. With “Same machine, new visit” under Visits you keep the one before."));
});
$("before").addEventListener("change", (e) => keep((r) => { r.before = e.target.value; }));
$("goodday").addEventListener("change", async (e) => {
  const from = (await all()).find((r) => r.id === e.target.value);
  await keep((r) => { r.goodday = e.target.value; if (from) { const { baseline, ...good } = visit(from); r.visit.baseline = good; } else delete r.visit.baseline; });
  look();
});

// -- visits on this phone -----------------------------------------------------------------------------------------------------------
async function load(id) {
  await settled();
  const found = id && (await all()).find((r) => r.id === id);
  record = found || fresh();
  if (record.id) remember("open", record.id);
  show();
  tick();
  await days();
  await look();
}
async function days() {
  const mine = record.visit.machine?.name;
  const others = (await all().catch(() => [])).filter((r) => r.id !== record.id && Object.keys(r.visit.readings ?? {}).length)
    .sort((a, b) => (b.visit.machine?.name === mine) - (a.visit.machine?.name === mine) || b.created - a.created);
  for (const name of ["goodday", "before"]) {
    $(name).replaceChildren(el("option", { value: "" }, "none"), ...others.map((r) => el("option", { value: r.id }, titleOf(r))));
    $(name).value = others.some((r) => r.id === record[name]) ? record[name] : "";
  }
}
const titleOf = (r) => `${r.visit.machine?.name || "Visit"}, ${new Date(r.created).toLocaleDateString()}`;
async function list() {
  const kept = (await all().catch(() => [])).sort((a, b) => b.updated - a.updated);
  $("kept").replaceChildren(...kept.map((r) => el("li", {},
    el("button", { type: "button", class: "name", onclick: () => { $("visits").close(); load(r.id); } }, titleOf(r), ...[stateOf(r, visit(r)), r.answer].filter(Boolean).map((text) => el("span", { class: "hint" }, ` ${text}`))),
    el("button", { type: "button", "aria-label": `Delete ${titleOf(r)}`, onclick: async () => { if (confirm(`${r.outbox?.length ? "It has not reached the office yet. " : ""}Delete ${titleOf(r)} from this phone?`)) { await remove(r.id); if (r.id === record.id) await load(); list(); } } }, "Delete"))));
}
$("open-visits").addEventListener("click", async () => { await list(); $("visits").showModal(); });
$("close-visits").addEventListener("click", () => $("visits").close());
$("new").addEventListener("click", () => { $("visits").close(); load(); });
$("again").addEventListener("click", async () => { await settled(); const before = record; $("visits").close(); record = { ...fresh(structuredClone(before.visit.machine ?? {})), before: before.id }; show(); tick(); await days(); look(); });
async function file() {
  const text = await ask("as_yaml", visit());
  const name = `${(record.visit.machine?.name || "visit").toLowerCase().replaceAll(/[^a-z0-9]+/g, "-")}.yaml`;
  return new File([text], name, { type: "application/yaml" });
}
$("export").addEventListener("click", async () => {
  const made = await file();
  const link = el("a", { href: URL.createObjectURL(made), download: made.name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
});
$("share").hidden = !navigator.canShare;
$("share").addEventListener("click", async () => { const made = await file(); if (navigator.canShare({ files: [made] })) navigator.share({ files: [made] }).catch(() => {}); });
$("import").addEventListener("change", async (e) => {
  const [chosen] = e.target.files;
  if (!chosen) return;
  const found = await ask("from_yaml", await chosen.text());
  e.target.value = "";
  if (found.error) { tell(`${chosen.name}: ${found.error[0]}`); $("visits").close(); return; }
  await settled();
  record = fresh();
  const listed = Array.isArray(found.readings) ? found.readings : [found.readings ?? {}];
  const taken = { visit: { ...found, machine: found.machine ?? {}, readings: listed.at(-1), seen: found.seen ?? {} }, imported: true, rounds: listed.slice(0, -1) };
  await keep((r) => Object.assign(r, structuredClone(taken)));
  $("visits").close();
  show(); await days(); look();
});

// -- start ----------------------------------------------------------------------------------------------------------------------------
async function start() {
  const safe = await persist();
  $("where").textContent = safe ? "They stay on this phone until you delete them; nobody else has them unless you send or share them." : "They are on this phone only, and the browser may clear them when space runs short. Save what matters as a file.";
  const open = remembered("open");
  try { record = (await all()).find((r) => r.id === open) ?? record; } catch (error) { keeps = false; tell(cannotKeep(error)); }
  new ResizeObserver(() => { document.documentElement.style.scrollPaddingTop = `${$("bar").offsetHeight + 8}px`; }).observe($("bar"));
  const there = new Set();  // the bar is for typing: not beside the answer itself, nor over practice, whose machine is another
  const bar = new IntersectionObserver((seen) => {
    for (const { target, isIntersecting } of seen) there[isIntersecting ? "add" : "delete"](target.id);
    $("bar").classList.toggle("shown", there.has("form") && !there.has("answer"));
  });
  for (const id of ["answer", "form"]) bar.observe($(id));
  $("bar").addEventListener("click", () => scrollTo(0, 0));
  form = await ask("form");
  build();
  show();
  tick();
  await days();
  await look();
  return performance.now() - begun;
}
window.shown = start();
window.shown.catch((error) => { $("loading")?.replaceChildren(`It could not start: ${error.message}. Load the page again; what was typed is kept.`); });

const settled = async () => { flush(); await keeping; };
whatIf(() => record.system);
addEventListener("hashchange", turnAsAsked);
window.shown.then(turnAsAsked, () => {});
practice(() => record.system);
news(settled, tell);
addEventListener("delivered", () => { if ($("visits").open) list(); });
window.shown.then(() => outbox(() => record, visit, keep, settled)).catch(() => {});
