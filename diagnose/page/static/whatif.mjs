// What if: change a machine of the simulator, say first which way each figure goes, then see.
import { el, drawn } from "./blocks.mjs";
import { ask } from "./program.mjs";

const $ = (id) => document.getElementById(id);
const GUESSES = ["not said", "rises", "stays", "falls"];
let made;

// system: asks for the units that are used now.
export function whatIf(system) {
  $("whatif").addEventListener("toggle", () => { if ($("whatif").open) made ??= build(system); });
}
export const presets = async () => (await ask("knobs")).presets;

// Turns the lesson's machine with this metering device to its fault; nothing is shown before the person has predicted.
export async function turnTo(fault, metering, name, system) {
  made ??= build(system);
  $("whatif").open = true;
  (await made)(fault, metering, name);
}

async function build(system) {
  const { devices, knobs, figures, presets: known } = await ask("knobs");
  const device = el("select", { id: "device" }, ...devices.map((d) => el("option", {}, d)));
  const turns = knobs.map((k) => ({ k, shown: el("output", { for: `knob-${k.name.replaceAll(" ", "-")}` }), input: el("input", { type: "range", id: `knob-${k.name.replaceAll(" ", "-")}`, min: k.low, max: k.high, step: k.step, value: k.right }) }));
  const guesses = figures.map((name) => ({ name, choose: el("select", { id: `guess-${name.replaceAll(" ", "-")}` }, ...GUESSES.map((w) => el("option", {}, w))) }));
  const title = el("h3", { hidden: true });
  const seen = el("div", { id: "outcome", role: "status" });
  let shown = false;
  let timer;
  const label = ({ k, shown: out, input }) => { out.textContent = `${input.value} ${k.unit}`; };
  const show = async () => {
    if (!shown && guesses.every(({ choose }) => choose.value === "not said")) {
      seen.replaceChildren(el("p", {}, "Predict first: say of at least one figure which way it goes."));
      guesses[0].choose.focus();
      return;
    }
    shown = true;
    const answer = await ask("what_if", device.value, Object.fromEntries(turns.map(({ k, input }) => [k.name, Number(input.value)])), system());
    if (answer.why) { seen.replaceChildren(el("p", {}, answer.why)); return; }
    seen.replaceChildren(
      el("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": "What moved" }, el("table", {}, el("tr", {}, ...["Figure", "Now", "It moved", "You said"].map((t) => el("th", { scope: "col" }, t))), ...answer.figures.map((f) => {
        const guess = guesses.find((g) => g.name === f.name).choose.value;
        return el("tr", {}, el("th", { scope: "row" }, f.name), el("td", {}, f.value), el("td", {}, `${f.way}, ${f.moved}`), el("td", {}, guess === "not said" ? "" : guess === f.way ? `${guess}: right` : `${guess}: wrong`));
      }))), ...answer.screen.filter((b) => b.kind === "answer" || b.lead === "Charge:" || b.lead === "Because").map(drawn));
  };
  const again = () => { if (shown) { clearTimeout(timer); timer = setTimeout(show, 150); } };
  for (const turn of turns) { label(turn); turn.input.addEventListener("input", () => { label(turn); again(); }); }
  device.addEventListener("change", again);
  $("turned").replaceChildren(title, el("div", { class: "pair" }, el("label", { for: "device" }, "Metering device"), device),
    ...turns.map(({ k, shown: out, input }) => el("div", { class: "turn" }, el("label", { for: input.id }, k.name, " ", out), input)),
    el("h3", {}, "Predict: which way does it go?"),
    ...guesses.map(({ name, choose }) => el("div", { class: "pair guess" }, el("label", { for: choose.id }, name), choose)),
    el("div", { class: "buttons" }, el("button", { type: "button", onclick: show }, "Show me")), seen);
  return (fault, metering, name) => {
    const to = known[fault]?.[metering] ?? {};
    device.value = metering;
    for (const turn of turns) { turn.input.value = to[turn.k.name] ?? turn.k.right; label(turn); }
    for (const { choose } of guesses) choose.value = "not said";
    shown = false;
    seen.replaceChildren();
    title.textContent = name;
    title.hidden = false;
    $("whatif").scrollIntoView({ block: "start" });
    guesses[0].choose.focus({ preventScroll: true });
  };
}
