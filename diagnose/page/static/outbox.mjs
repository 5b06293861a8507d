// Visits on their way to the office that handed out this page. Sending is the person's own act: the visit as it stands then is put
// into its outbox, beside it in the store, and leaves when there is a signal. Each copy waits until the office has told that it is
// there, then comes the next: what was told twice is there once, and a later version says which one it was made from.
import { change, all } from "./store.mjs";
import { remembered, remember } from "./memory.mjs";

const $ = (id) => document.getElementById(id);
const SOON = 15000, LATE = 300000;  // ms until it is tried again, at first and at most
let wait = SOON;
let timer;
let busy = false;
let stands = () => "";

export function stateOf(record, visit) {
  if (record.outbox?.length) return "Waiting to be sent; it goes by itself when there is a signal.";
  if (record.refused) return `The office did not take it. ${record.refused.join(" ")}`;
  if (!record.sent) return "";
  return record.sent.copy === JSON.stringify(visit) ? "The office has it." : "Changed since it was sent.";
}

// What the office answers: nothing where there is no signal, or where something else answers in its place (a hotel's own page).
async function ask(path, how) {
  try {
    const answer = await fetch(path, { cache: "no-store", redirect: "error", signal: AbortSignal.timeout(20000), ...how });
    return { status: answer.status, said: await answer.json(), after: Number(answer.headers.get("retry-after")) * 1000 };
  } catch { return null; }
}
const again = (after = 0) => { clearTimeout(timer); timer = setTimeout(deliver, Math.max(wait, after || 0)); wait = Math.min(2 * wait, LATE); };

async function deliverAll() {
  for (const { id } of await all().catch(() => [])) {
    for (;;) {
      const record = (await all()).find((r) => r.id === id);
      const visit = record?.outbox?.[0];
      if (!visit) break;
      const body = JSON.stringify({ visit, based_on: record.sent?.digest ?? "" });
      const answer = await ask(`office/sent/${id}`, { method: "PUT", headers: { "content-type": "application/json" }, body });
      const taken = answer?.status === 200 && /^[0-9a-f]{64}$/.test(answer.said.digest ?? "");
      const refused = [413, 422].includes(answer?.status) && Array.isArray(answer.said.problems);
      if (answer?.status === 500) {  // the office fails on this very visit: it waits, the others go
        again();
        break;
      }
      if (!taken && !refused) {
        signIn(answer?.status === 401);
        again(answer?.after);
        return;
      }
      const copy = JSON.stringify(visit);
      await change(id, (kept) => {
        if (JSON.stringify(kept.outbox?.[0]) !== copy) return;  // another tab was told as well
        kept.outbox = kept.outbox.slice(1);
        if (taken) kept.sent = { digest: answer.said.digest, copy };
        kept.refused = refused ? answer.said.problems : null;
      });
      wait = SOON;
    }
  }
  signIn(false);
}
async function deliver() {
  if (busy || !$("office") || $("office").hidden) return;
  busy = true;
  try {
    if (navigator.locks) await navigator.locks.request("outbox", { ifAvailable: true }, (mine) => mine && deliverAll());
    else await deliverAll();
  } catch { again(); } finally { busy = false; }
  await count();
}
async function count() {
  const kept = await all().catch(() => []);
  const waiting = kept.filter((r) => r.outbox?.length).length;
  $("open-visits").textContent = waiting ? `Visits, ${waiting} to send` : "Visits";
  const state = stands(kept);
  if (state) $("sending").textContent = state;
  dispatchEvent(new Event("delivered"));
}
function signIn(needed) { $("sign-in").hidden = !needed; }

// current: the open visit; whole: a visit as its file has it; keep: changes the open one, kept at once.
export async function outbox(current, whole, keep, settled) {
  stands = (kept) => { const mine = kept.find((r) => r.id === current().id); return mine ? stateOf(mine, whole(mine)) : ""; };
  const say = (text) => { $("sending").textContent = text; };
  $("send").addEventListener("click", async () => {
    await settled();
    const visit = whole(current());
    if (!visit.machine?.name?.trim()) { say("Give the machine a name first: the office finds its visits by it."); return; }
    const copy = JSON.stringify(visit);
    let there = false;
    await keep((r) => {
      there = JSON.stringify(r.outbox?.at(-1)) === copy || (!r.outbox?.length && r.sent?.copy === copy);
      if (!there) Object.assign(r, { outbox: [...(r.outbox ?? []), JSON.parse(copy)], refused: null });
    });
    say("");
    wait = SOON;
    await count();
    await deliver();
  });
  addEventListener("online", deliver);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) deliver(); });
  $("office").hidden = remembered("office") !== "yes";
  await count();
  const here = await ask("office/here");
  if (here?.said?.office === true || here?.status === 401) { remember("office", "yes"); $("office").hidden = false; }
  signIn(here?.status === 401);
  await deliver();
}
