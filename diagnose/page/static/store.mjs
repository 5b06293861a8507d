// What was typed, on this phone: every field is written by itself as soon as it is left or typed, so that two tabs, a crash or an
// empty battery lose nothing. A connection that the system closed is opened again and the write repeated.
let opening;

function open() {
  opening ??= new Promise((ok, no) => {
    const request = indexedDB.open("visits", 1);
    request.onupgradeneeded = () => {
      const db = request.result;
      if (!db.objectStoreNames.contains("visits")) db.createObjectStore("visits", { keyPath: "id" });
    };
    request.onsuccess = () => {
      const db = request.result;
      db.onclose = () => { opening = undefined; };
      db.onversionchange = () => { db.close(); opening = undefined; };
      ok(db);
    };
    request.onerror = () => no(request.error);
    request.onblocked = () => no(new Error("another tab holds an older version open"));
  }).catch((error) => { opening = undefined; throw error; });
  return opening;
}

async function transact(mode, work, again = true) {
  try {
    const db = await open();
    return await new Promise((ok, no) => {
      const transaction = db.transaction("visits", mode, { durability: "strict" });
      let result;
      work(transaction.objectStore("visits"), (value) => { result = value; }, no);
      transaction.oncomplete = () => ok(result);
      transaction.onabort = transaction.onerror = ({ target }) => no(target.error ?? new Error("not written"));
    });
  } catch (error) {
    if (again && ["InvalidStateError", "AbortError", "UnknownError"].includes(error?.name)) {
      opening = undefined;
      return transact(mode, work, false);
    }
    throw error;
  }
}

// Changes one record as it is stored now, not as this tab remembers it.
export const change = (id, alter) => transact("readwrite", (kept, give, fail) => {
  const request = kept.get(id);
  request.onsuccess = () => {
    const record = request.result ?? { id, created: Date.now(), system: "us", visit: {}, rounds: [] };
    alter(record);
    record.updated = Date.now();
    try { kept.put(record); } catch (error) { fail(error); throw error; }
    give(record);
  };
});
export const all = () => transact("readonly", (kept, give) => { kept.getAll().onsuccess = (e) => give(e.target.result); });
export const remove = (id) => transact("readwrite", (kept) => kept.delete(id));
export const persist = async () => { try { return await navigator.storage?.persist?.() ?? false; } catch { return false; } };
