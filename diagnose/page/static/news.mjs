// A newer version waits beside the running one: what its rule book says otherwise is told, and the person decides when to change.
import { el, drawn } from "./blocks.mjs";
import { ask } from "./program.mjs";

const $ = (id) => document.getElementById(id);
let wanted = false;

// The waiting service worker holds the newer book: it is asked for it, so that nothing of the running version is replaced.
const bookOf = (worker) => new Promise((ok, no) => {
  const { port1, port2 } = new MessageChannel();
  port1.onmessage = ({ data }) => (data === null ? no(new Error("no book")) : ok(data));
  worker.postMessage("book", [port2]);
});
async function offer(worker, before) {
  const place = $("news");
  const use = el("button", { type: "button", onclick: async () => { await before(); wanted = true; worker.postMessage("take over"); } }, "Use it now");
  const later = el("button", { type: "button", onclick: () => { place.hidden = true; } }, "Later");
  const told = el("details", { class: "blocks" }, el("summary", {}, "What is different"));
  const first = el("strong", {}, "A newer version is here.");
  place.replaceChildren(el("p", { role: "status" }, first, " Yours goes on until you change; what you typed stays."), told, el("div", { class: "buttons" }, use, later));
  place.hidden = false;
  try {
    const news = await ask("news", await bookOf(worker));
    const [headline, ...rest] = news.blocks;
    first.textContent = headline?.text ?? "A newer version is here.";
    told.append(...(news.why ? [el("p", {}, news.why)] : rest.map(drawn)));
    told.hidden = !news.why && !rest.length;
  } catch { told.hidden = true; }
}

// before: what must be kept before the page is loaded anew. said: tells where nothing can be kept for use without a signal.
export function news(before, said) {
  if (!("serviceWorker" in navigator)) { said("This browser keeps nothing for use without a signal."); return; }
  const workers = navigator.serviceWorker;
  workers.register("sw.js").then((registration) => {
    if (registration.waiting && workers.controller) offer(registration.waiting, before);
    registration.addEventListener("updatefound", () => {
      const coming = registration.installing;
      coming?.addEventListener("statechange", () => { if (coming.state === "installed" && workers.controller) offer(coming, before); });
    });
    document.addEventListener("visibilitychange", () => { if (!document.hidden) registration.update().catch(() => {}); });
  }).catch(() => said("This browser keeps nothing for use without a signal."));
  const had = Boolean(workers.controller);
  workers.addEventListener("controllerchange", () => {
    if (wanted) location.reload();
    else if (had) $("news").replaceChildren(el("p", { role: "status" }, "Another window changed to the newer version. This one goes on as it is until you load it again."),
      el("div", { class: "buttons" }, el("button", { type: "button", onclick: async () => { await before(); location.reload(); } }, "Load it again"))), $("news").hidden = false;
  });
}
