// Photos: the bytes as the camera gave them, under their SHA-256, on the disk before the entry that names them.
//
// A photo that no entry names yet is loose: it belongs to a draft. Loose photos are counted, stand in the file of unsent
// work, and are not sent until an entry names them.

import { ask } from "./database.js";
import { Refusal, isFull, noRoom } from "./refusal.js";
import { sha256 as digest } from "./record.js";

// Photos leave this much room for text, which matters more (settings of ours): 8 MiB, or a quarter of a small quota.
export const ROOM_FOR_TEXT = 8 * 1024 * 1024;
export const SHARE_FOR_TEXT = 0.25;

const LARGEST = 32 * 1024 * 1024; // when the pack does not say: what the office takes

const NAMES_A_FILE = /[0-9a-f]{64}/g;

export async function keepPhoto(store, caseId, blob) {
  const bytes = await blob.arrayBuffer();
  if (bytes.byteLength === 0) throw new Refusal("this photo is empty", "the file holds no bytes", "take it again");
  const sha256 = await digest(bytes);
  await store.device();
  const known = await store.database.run(["photos"], "readonly", ({ photos }) => ask(photos.get([caseId, sha256])));
  const type = known?.media_type ?? typeOf(new Uint8Array(bytes, 0, Math.min(bytes.byteLength, 12)));
  if (!type) throw new Refusal("this is not a photo that the office takes", "a JPEG, PNG, WebP or HEIC file is wanted", "choose another file, or take the photo again");
  if (!known?.bytes) {
    if (!(await hasRoomFor(bytes.byteLength))) throw noRoom("this photo could not be kept on this phone");
    await write(store, caseId, { sha256, bytes, media_type: type });
    await store.copy.photo(caseId, sha256, bytes);
    store.changed({ what: "photos", case: caseId });
  }
  return { sha256, size: bytes.byteLength, media_type: type };
}

// By the first bytes, as the office does it: names and types of files say nothing.
const HEIC = ["heic", "heix", "heim", "heis", "hevc", "mif1", "msf1"];

export function typeOf(head) {
  const letters = String.fromCharCode(...head);
  if (letters.startsWith("\xff\xd8\xff")) return "image/jpeg";
  if (letters.startsWith("\x89PNG\r\n\x1a\n")) return "image/png";
  if (letters.startsWith("RIFF") && letters.slice(8, 12) === "WEBP") return "image/webp";
  return letters.slice(4, 8) === "ftyp" && HEIC.includes(letters.slice(8, 12)) ? "image/heic" : "";
}

// Does this photo leave the room that text needs?
export async function hasRoomFor(size) {
  const { usage = 0, quota = Infinity } = (await globalThis.navigator?.storage?.estimate?.()) ?? {};
  return usage + size <= quota - Math.min(ROOM_FOR_TEXT, quota * SHARE_FOR_TEXT);
}

async function write(store, caseId, { sha256, bytes, media_type: type }) {
  try {
    await store.database.run(["packs", "photos", "photo_bytes", "entries"], "readwrite", async (stores) => {
      const taken = (await ask(stores.packs.get(caseId)))?.pack;
      if (!taken) throw new Refusal("this case is not on this device", "", "open the case from the list while there is a network");
      const largest = taken.limits?.largest_photo ?? LARGEST;
      if (bytes.byteLength > largest) {
        throw new Refusal("this photo is too large", `the office takes up to ${Math.floor(largest / 1048576)} MiB`, "take it with a smaller picture size");
      }
      const entries = await ask(stores.entries.index("case").getAll(caseId));
      const named = (taken.photos_awaited ?? []).includes(sha256) || entries.some((row) => row.payload_text.includes(sha256));
      await ask(stores.photo_bytes.put({ sha256, bytes }));
      await ask(stores.photos.put({
        case: caseId, sha256, media_type: type, size: bytes.byteLength, state: "here", reason: "", named, bytes: true,
        troubles: 0, kept: store.now(), waiting: 1,
      }));
    });
  } catch (problem) {
    throw isFull(problem) ? noRoom("this photo could not be kept on this phone") : problem;
  }
}

// In the transaction that writes entries: photos they name are loose no longer.
export async function nameThem(photos, caseId, rows) {
  const named = new Set(rows.flatMap((row) => row.payload_text.match(NAMES_A_FILE) ?? []));
  for (const sha256 of named) {
    const photo = await ask(photos.get([caseId, sha256]));
    if (photo && !photo.named) await ask(photos.put({ ...photo, named: true }));
  }
}

export async function photo(store, sha256) {
  return store.database.run(["photos", "photo_bytes"], "readonly", async (stores) => {
    const kept = await ask(stores.photo_bytes.get(sha256));
    if (!kept) return null;
    const [row] = await ask(stores.photos.index("sha256").getAll(sha256, 1));
    return new Blob([kept.bytes], { type: row?.media_type ?? "application/octet-stream" });
  });
}

export async function photosOf(store, caseId) {
  const rows = await store.database.run(["photos"], "readonly", ({ photos }) => ask(photos.index("case").getAll(caseId)));
  return rows.sort((one, other) => one.kept - other.kept).map((row) => ({
    sha256: row.sha256, state: row.state === "here" && store.sending.has(row.sha256) ? "sending" : row.state,
    reason: row.reason, size: row.size, media_type: row.media_type, named: row.named,
  }));
}

// A photo of a draft that was given up. One that an entry names stays.
export async function dropPhoto(store, caseId, sha256) {
  await store.database.run(["photos", "photo_bytes"], "readwrite", async (stores) => {
    const row = await ask(stores.photos.get([caseId, sha256]));
    if (!row) return;
    if (row.named) throw new Refusal("this photo stays", "an entry names it", "strike the entry, with a reason");
    await ask(stores.photos.delete([caseId, sha256]));
    if ((await ask(stores.photos.index("sha256").count(sha256))) === 0) await ask(stores.photo_bytes.delete(sha256));
  });
  await store.copy.dropPhoto(caseId, sha256);
  store.changed({ what: "photos", case: caseId });
}

// When not even text fits: bytes of photos that the office has received leave this device, oldest first; where there are
// none, the second copies of the others do. True if any.
export async function makeRoom(store) {
  return (await receivedLeave(store)) || store.copy.dropPhotos();
}

async function receivedLeave(store) {
  return store.database.run(["photos", "photo_bytes"], "readwrite", async (stores) => {
    const rows = (await ask(stores.photos.getAll())).filter((row) => row.bytes);
    const waiting = new Set(rows.filter((row) => row.state !== "received").map((row) => row.sha256));
    const received = rows.filter((row) => !waiting.has(row.sha256)).sort((one, other) => one.kept - other.kept);
    const leaving = received.slice(0, Math.max(4, Math.ceil(received.length / 4)));
    for (const row of leaving) {
      await ask(stores.photo_bytes.delete(row.sha256));
      await ask(stores.photos.put({ ...row, bytes: false }));
    }
    return leaving.length > 0;
  });
}
