// The program itself, in a thread of its own: it loads once, then answers one call after the other.
import { loadPyodide } from "./pyodide.mjs";

let call;
const ready = (async () => {
  const begun = performance.now();
  const [py, app, book] = await Promise.all([
    loadPyodide({ indexURL: "./" }),
    fetch("app.zip").then((r) => r.arrayBuffer()),
    fetch("book.json").then((r) => r.text()),
  ]);
  const runtime = performance.now();
  py.unpackArchive(app, "zip", { extractDir: "/site" });
  py.runPython("import sys; sys.path.insert(0, '/site')");
  const engine = py.pyimport("diagnose.page.engine");
  engine.start(book);
  call = engine.call;
  postMessage({ ready: [runtime - begun, performance.now() - runtime] });
})().catch((error) => postMessage({ failed: String(error) }));

onmessage = async (event) => {
  await ready;
  const { id, name, given } = event.data;
  const begun = performance.now();
  try {
    const answer = call(name, JSON.stringify(given));
    postMessage({ id, answer, took: performance.now() - begun });
  } catch (error) {
    postMessage({ id, broken: String(error) });
  }
};
