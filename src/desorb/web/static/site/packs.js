// Cases taken along: the pack of the office, and the head of this device's chain in each case.
//
// A pack never takes anything away: entries, photos and drafts of this device stand beside it. The head of a chain stays
// even when a case is forgotten here, so that no number is ever given twice.

import { ask } from "./database.js";
import { isBegun } from "./drafts.js";
import { rowsOf, shown } from "./outbox.js";
import { Refusal } from "./refusal.js";
import { randomHex } from "./record.js";

export const PACK_SCHEMA = "desorb-site/1";

export async function pack(store, caseId) {
  return store.database.run(["packs"], "readonly", async ({ packs }) => (await ask(packs.get(caseId)))?.pack ?? null);
}

export async function cases(store) {
  return store.database.run(["packs", "entries", "photos"], "readonly", async (stores) => {
    const taken = await ask(stores.packs.getAll());
    const entries = await ask(stores.entries.index("waiting").getAll());
    const photos = await ask(stores.photos.index("waiting").getAll());
    const count = (rows, caseId) => rows.filter((row) => row.case === caseId).length;
    return taken.map(({ pack: { case: { id, name, site, time_zone: zone } }, fetched_at: fetched }) => ({
      id, name, site, time_zone: zone, fetched_at: fetched, unsent: count(entries, id), photosUnsent: count(photos, id),
    }));
  });
}

function check(given) {
  const isPack = given?.schema === PACK_SCHEMA && /^[0-9a-f]{1,64}$/.test(given.case?.id ?? "")
    && /^[0-9a-f]{64}$/.test(given.opening_hash ?? "") && Number.isSafeInteger(given.highest_clock);
  if (!isPack) throw new Refusal("this is no pack of a case that this page understands", `schema ${given?.schema}`, "load this page again while there is a network");
}

// Keeps the pack and raises the logical clock. When the office has lost what it had acknowledged (a store put back from
// a copy), those entries and photos wait to be sent again. When the office knows numbers of this device that are not
// from here (a copied storage), this storage takes a new device id.
export async function savePack(store, given) {
  check(given);
  const id = given.case.id;
  const row = { case: id, pack: given, fetched_at: new Date(store.now()).toISOString() };
  await store.database.run(["packs", "heads", "meta", "entries", "photos"], "readwrite", async (stores) => {
    const head = await ask(stores.heads.get(id));
    if (head && head.opening !== given.opening_hash) {
      throw new Refusal("this pack is of another case with the same id", given.case.name, "forget the case here, then fetch it again");
    }
    const device = (await ask(stores.meta.get("device")))?.value ?? "";
    const fresh = { case: id, opening: given.opening_hash, device, n: -1, hash: given.opening_hash, clock: 0, session: 0 };
    const kept = head ?? fresh;
    const known = given.devices?.[kept.device];
    if (known && (await isFromElsewhere(stores.entries, kept, known))) await ask(stores.meta.put({ name: "device", value: randomHex(4) }));
    const clocks = (await ask(stores.entries.index("case").getAll(id))).map(({ clock }) => clock); // put back without a head
    await ask(stores.heads.put({ ...kept, clock: Math.max(kept.clock, given.highest_clock, ...clocks) }));
    await ask(stores.packs.put(row));
    await waitAgain(stores, given);
  });
  await store.copy.pack(row);
  await store.copy.dropEntriesThere(id, (entry) => isThere(given, entry));
  store.changed({ what: "packs", case: id });
}

async function isFromElsewhere(entries, head, [n, hash]) {
  if (n > head.n) return true;
  const own = await ask(entries.get([head.case, head.device, n]));
  return own !== undefined && own.hash !== hash;
}

// Has the office this entry, as far as its pack says? A restored office may lack numbers before its last one.
function isThere(given, { device, n }) {
  if (n > (given.devices?.[device]?.[0] ?? -1)) return false;
  return !(given.missing?.[device] ?? []).some(([first, last]) => n >= first && n <= last);
}

// At most a few times each: an office that never shows what it acknowledged is not asked for ever.
const MOST_AGAIN = 3;

async function waitAgain(stores, given) {
  const again = async (store, row) => {
    const times = (row.again ?? 0) + 1;
    if (times <= MOST_AGAIN) await ask(store.put({ ...row, state: "here", reason: "", waiting: 1, again: times }));
  };
  for (const row of await ask(stores.entries.index("case").getAll(given.case.id))) {
    if (row.state === "received" && !isThere(given, row)) await again(stores.entries, row);
  }
  for (const sha256 of given.photos_awaited ?? []) {
    const photo = await ask(stores.photos.get([given.case.id, sha256]));
    if (photo?.state === "received" && photo.bytes) await again(stores.photos, photo);
  }
}

export async function beyondPack(store, caseId) {
  const given = (await pack(store, caseId)) ?? {};
  const rows = await rowsOf(store, caseId);
  return rows.filter((row) => !isThere(given, row)).map((row) => shown(row, store.sending));
}

export async function forgetCase(store, caseId) {
  await store.database.run(["packs", "entries", "photos", "photo_bytes", "drafts"], "readwrite", async (stores) => {
    const entries = await ask(stores.entries.index("case").getAll(caseId));
    const photos = await ask(stores.photos.index("case").getAll(caseId));
    const waiting = [...entries, ...photos].filter((row) => row.waiting).length;
    if (waiting) throw new Refusal("this case is not forgotten", `${waiting} entries or photos have not been received by the office`, "send them, or save them to a file");
    const given = (await ask(stores.packs.get(caseId)))?.pack ?? {};
    const lost = entries.filter(({ device, n }) => (given.missing?.[device] ?? []).some(([first, last]) => n >= first && n <= last)).length;
    if (lost) throw new Refusal("this case is not forgotten", `the office does not hold ${lost} entries of this device that it had received`, "send them again, or save this case to a file");
    const drafts = await ask(stores.drafts.index("case").getAll(caseId));
    if (drafts.some((row) => isBegun(row.value))) {
      throw new Refusal("this case is not forgotten", "something was begun in it and is not saved", "save it or set it aside first");
    }
    for (const row of drafts) await ask(stores.drafts.delete([row.case, row.tab]));
    for (const row of entries) await ask(stores.entries.delete([row.case, row.device, row.n]));
    for (const row of photos) {
      await ask(stores.photos.delete([row.case, row.sha256]));
      if ((await ask(stores.photos.index("sha256").count(row.sha256))) === 0) await ask(stores.photo_bytes.delete(row.sha256));
    }
    await ask(stores.packs.delete(caseId));
  });
  await store.copy.dropCase(caseId);
  store.changed({ what: "packs", case: caseId });
}
