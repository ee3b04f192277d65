// What waits for the office, and what became of it. `waiting` stands in a row until the office has it (received, or set
// aside there with a reason); the index of that name is the queue.

import { ask } from "./database.js";

const inOrder = (one, other) => one.clock - other.clock || (one.device < other.device ? -1 : one.device > other.device ? 1 : one.n - other.n);

export function shown(row, sending) {
  const { case: caseId, device, n, hash, kind, claimed_at, clock, reason, received_at } = row;
  const state = row.state === "here" && sending.has(hash) ? "sending" : row.state;
  return { name: `${device}/${n}`, case: caseId, device, n, hash, kind, payload: JSON.parse(row.payload_text), claimed_at, clock, state, reason, received_at };
}

export async function rowsOf(store, caseId) {
  const rows = await store.database.run(["entries"], "readonly", ({ entries }) => ask(entries.index("case").getAll(caseId)));
  return rows.sort(inOrder);
}

export async function entriesOf(store, caseId) {
  return (await rowsOf(store, caseId)).map((row) => shown(row, store.sending));
}

export async function totals(store) {
  return store.database.run(["entries", "photos", "meta"], "readonly", async (stores) => {
    const entries = await ask(stores.entries.index("waiting").getAll());
    const photos = await ask(stores.photos.index("waiting").getAll());
    const contact = (await ask(stores.meta.get("lastContact")))?.value ?? "";
    const moments = [...entries.map((row) => row.made), ...photos.map((row) => row.kept)];
    return {
      entries: entries.length, photos: photos.filter((row) => row.named).length, loose: photos.filter((row) => !row.named).length,
      refused: [...entries, ...photos].filter((row) => row.state === "refused").length,
      oldest: moments.length ? new Date(moments.reduce((one, other) => Math.min(one, other))).toISOString() : "", lastContact: contact,
    };
  });
}

// Everything that is not with the office, also what was refused before it got there.
export async function waitingRows(store) {
  return store.database.run(["entries", "photos"], "readonly", async (stores) => ({
    entries: (await ask(stores.entries.index("waiting").getAll())).sort(inOrder),
    photos: (await ask(stores.photos.index("waiting").getAll())).sort((one, other) => one.kept - other.kept),
  }));
}

export async function photoBytes(store, sha256) {
  return store.database.run(["photo_bytes"], "readonly", async (stores) => (await ask(stores.photo_bytes.get(sha256)))?.bytes ?? null);
}

// Answers of the office: state received or known, or refused (set aside there). Lost answers only mean sending again.
export async function settleEntries(store, caseId, results, highestClock) {
  await store.database.run(["entries", "heads"], "readwrite", async ({ entries, heads }) => {
    for (const result of results) {
      const row = await ask(entries.index("hash").get(result.hash));
      if (!row || row.state === "received") continue;
      const settled = { ...row, state: result.state === "refused" ? "refused" : "received", reason: result.reason ?? "", received_at: result.received_at ?? "", troubles: 0 };
      delete settled.waiting;
      await ask(entries.put(settled));
    }
    const head = await ask(heads.get(caseId));
    if (head && highestClock > head.clock) await ask(heads.put({ ...head, clock: highestClock }));
  }, "relaxed");
  store.changed({ what: "entries", case: caseId });
}

// Not with the office: the reason is shown, the row goes on waiting. `state` refused: the office would not take it.
export async function markEntry(store, row, changes) {
  await change(store, "entries", [row.case, row.device, row.n], changes);
}

export async function markPhoto(store, row, changes) {
  await change(store, "photos", [row.case, row.sha256], changes);
  if (changes.state === "received") await store.copy.dropPhoto(row.case, row.sha256);
}

async function change(store, name, key, changes) {
  await store.database.run([name], "readwrite", async (stores) => {
    const row = await ask(stores[name].get(key));
    if (!row?.waiting) return;
    const changed = { ...row, ...changes };
    if (changed.state === "received") delete changed.waiting;
    await ask(stores[name].put(changed));
  }, "relaxed");
  store.changed({ what: name, case: key[0] });
}

export function onTheWay(store, hashes) {
  store.sending = new Set(hashes);
  store.changed({ what: "sending", hashes });
}
