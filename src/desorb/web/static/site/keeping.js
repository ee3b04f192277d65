// How safely this browser keeps things, how long work has waited here, and the file that takes it elsewhere.

import { ask } from "./database.js";
import { photoBytes, waitingRows } from "./outbox.js";

export const LITTLE_ROOM = 200 * 1024 * 1024; // a setting of ours: below it, a private window or a full phone
export const UNSENT_SCHEMA = "desorb-unsent/1";
const HOUR = 3600 * 1000;
const FIRST_AGE = 24 * HOUR; // settings of ours; some browsers clear a page that was not opened for seven days
const LOUD_AGE = 5 * 24 * HOUR;
const CHUNK = 0x8000 * 3; // a multiple of 3: base64 of the parts can be joined

export async function storageTruth(store) {
  const storage = globalThis.navigator?.storage;
  const persisted = (await storage?.persisted?.()) ?? false;
  const { usage = 0, quota = 0 } = (await storage?.estimate?.()) ?? {};
  const words = [
    persisted
      ? "This browser has promised to keep what is saved here until you clear it yourself."
      : "This browser may clear what is saved here when the phone runs short of room. Send soon, or save to a file.",
  ];
  words.push(store.copy.words());
  const left = Math.max(0, quota - usage);
  if (!quota) words.push("This browser does not say how much room there is.");
  else if (quota < LITTLE_ROOM) words.push(`There is little room for this page: ${inWords(quota)}. It may be a private window, which forgets everything when it is closed.`);
  else if (left < LITTLE_ROOM) words.push(`Little room is left for this page: ${inWords(left)}. Photos may not fit; text will.`);
  return { persisted, quota, usage, words };
}

// Only in answer to a tap: browsers ask the person, or decide by themselves.
export async function askToKeep(store) {
  const persisted = (await globalThis.navigator?.storage?.persist?.()) ?? false;
  return { ...(await storageTruth(store)), persisted };
}

function inWords(bytes) {
  return bytes >= 1024 * 1024 ? `${Math.floor(bytes / (1024 * 1024))} MiB` : `${Math.floor(bytes / 1024)} KiB`;
}

// level 0: nothing to say; 1: a sentence; 2: louder, with the file as the way out.
export function ageWords({ entries, photos, loose = 0, oldest }, now) {
  const age = oldest ? now - Date.parse(oldest) : 0;
  if (!oldest || age < FIRST_AGE) return { level: 0, words: "" };
  const days = Math.floor(age / (24 * HOUR));
  const since = age < 48 * HOUR ? `${Math.floor(age / HOUR)} hours` : `${days} days`;
  const what = `${count(entries, "entry", "entries")} and ${count(photos + loose, "photo", "photos")}`;
  if (age < LOUD_AGE) return { level: 1, words: `${what} have waited on this phone, the oldest for ${since}. Send them when there is a network.` };
  const words = `${what} stand on this phone only, the oldest for ${since}. A browser may clear them. Send them today, or save to a file and carry it to the office.`;
  return { level: 2, words };
}

function count(number, one, many) {
  return `${number} ${number === 1 ? one : many}`;
}

// {"schema", "entries": [{envelope, salt, payload}], "photos": [{case, sha256, media_type, base64}]}
export async function fileOfUnsent(store) {
  const { entries, photos } = await waitingRows(store);
  const sent = entries.map(({ envelope, salt, payload_text: payload }) => JSON.stringify({ envelope, salt, payload }));
  const parts = [`{"schema":${JSON.stringify(UNSENT_SCHEMA)},"entries":[`, sent.join(",\n"), '],"photos":['];
  let isFirst = true;
  for (const photo of photos) {
    const bytes = await photoBytes(store, photo.sha256);
    if (!bytes) continue;
    const { case: caseId, sha256, media_type } = photo;
    const head = JSON.stringify({ case: caseId, sha256, media_type }).slice(0, -1);
    parts.push(`${isFirst ? "" : ",\n"}${head},"base64":"`, ...base64Of(new Uint8Array(bytes)), '"}');
    isFirst = false;
  }
  parts.push("]}\n");
  return new Blob(parts, { type: "application/json" });
}

function base64Of(bytes) {
  const parts = [];
  for (let start = 0; start < bytes.length; start += CHUNK) {
    let piece = "";
    for (let at = start; at < Math.min(start + CHUNK, bytes.length); at += 0x2000) {
      piece += String.fromCharCode(...bytes.subarray(at, Math.min(at + 0x2000, start + CHUNK, bytes.length)));
    }
    parts.push(btoa(piece));
  }
  return parts;
}

// Where a number of days is set: what the office received longer ago than that, and what the pack here holds already,
// leaves this device. The head of the chain stays. Gives how many entries and photos left.
export async function tidy(store) {
  const days = (await store.meta("keepDays")) ?? 0;
  if (!days) return 0;
  const before = store.now() - days * 24 * HOUR;
  const gone = await store.database.run(["packs", "entries", "photos", "photo_bytes"], "readwrite", async (stores) => {
    const packs = new Map((await ask(stores.packs.getAll())).map((row) => [row.case, row.pack]));
    let count = 0;
    for (const row of await ask(stores.entries.getAll())) {
      const last = packs.get(row.case)?.devices?.[row.device]?.[0] ?? -1;
      if (row.state !== "received" || row.waiting || row.made >= before || row.n > last) continue;
      await ask(stores.entries.delete([row.case, row.device, row.n]));
      count += 1;
    }
    for (const row of await ask(stores.photos.getAll())) {
      if (row.state !== "received" || row.waiting || row.kept >= before) continue;
      await ask(stores.photos.delete([row.case, row.sha256]));
      if ((await ask(stores.photos.index("sha256").count(row.sha256))) === 0) await ask(stores.photo_bytes.delete(row.sha256));
      count += 1;
    }
    return count;
  });
  if (gone) store.changed({ what: "entries", case: "" });
  return gone;
}
