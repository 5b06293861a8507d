// Blocks of text, as the program makes them, become elements. Texts are texts: nothing that was typed is ever read as markup.
export function el(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (value === true) made.setAttribute(key, "");
    else if (value !== false && value != null) made.setAttribute(key, value);
  }
  made.append(...children.filter((c) => c != null));
  return made;
}

// What stands between backticks is set as code; a refrigerant's name and a date stay on one line.
export const words = (text) => text.split(/`([^`]+)`/).flatMap((part, i) => i % 2 ? el("code", {}, part) : whole(part));
const whole = (text) => text.split(/(\bR-\d+\w*|\b\d{4}-\d\d-\d\d\b)/).map((part, i) => i % 2 ? el("span", { class: "whole" }, part) : part);
export const sentence = (block) => [block.lead ? el("span", { class: "lead" }, block.lead) : null, block.lead ? " " : null, ...words(block.text ?? "")];
const KINDS = {
  answer: (b) => el("h2", {}, ...sentence(b)),
  heading: (b) => el("h3", {}, ...sentence(b)),
  subheading: (b) => el("h3", {}, ...sentence(b)),
  item: (b) => el("p", { class: "item" }, el("span", { class: "mark" }, b.mark ?? "-"), ...sentence(b)),
  deeper: (b) => { const p = el("p", { class: "deeper" }, ...sentence(b)); p.style.marginLeft = `${1.2 * (b.level ?? 1)}rem`; return p; },
  term: (b) => el("p", {}, el("strong", {}, b.mark ?? ""), ": ", ...sentence(b)),
  sum: (b) => el("p", {}, b.mark ? el("strong", {}, `${b.mark} `) : null, ...sentence(b)),
  rows: (b) => el("div", { class: "scroll", tabindex: "0" }, el("table", {}, ...b.rows.map((row, i) => el("tr", {}, ...row.map((cell) => el(i ? "td" : "th", i ? {} : { scope: "col" }, ...words(cell))))))),
  figure: (b) => {
    const drawn = new DOMParser().parseFromString(b.svg, "image/svg+xml").documentElement;
    drawn.removeAttribute("style");  // how wide it is says the stylesheet
    return el("figure", {}, el("div", { class: "scroll", tabindex: "0", role: "group", "aria-label": "Drawing" }, document.importNode(drawn, true)), el("figcaption", {}, ...sentence(b)));
  },
};
export const drawn = (block) => (KINDS[block.kind] ?? ((b) => el("p", {}, ...sentence(b))))(block);
