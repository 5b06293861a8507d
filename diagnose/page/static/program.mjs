// The program in a thread of its own (worker.mjs): one question after the other, each with its answer.
const worker = new Worker("worker.mjs", { type: "module" });
const waiting = new Map();
let calls = 0;
export const begun = performance.now();
const ready = new Promise((ok, no) => {
  worker.onmessage = ({ data }) => {
    if (data.ready) { window.times = { start: performance.now() - begun, parts: data.ready }; ok(); }
    else if (data.failed) no(new Error(data.failed));
    else {
      const { ok: settle, no: refuse } = waiting.get(data.id);
      waiting.delete(data.id);
      window.took = data.took;
      data.broken ? refuse(new Error(data.broken)) : settle(JSON.parse(data.answer));
    }
  };
  worker.onerror = (event) => no(new Error(event.message));
});
export const ask = (name, ...given) => ready.then(() => new Promise((ok, no) => { waiting.set(++calls, { ok, no }); worker.postMessage({ id: calls, name, given }); }));
window.ask = ask;
