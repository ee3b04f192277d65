// The second copy: what is not with the office yet, once more, as files beside the database.
//
// Some browsers keep a database in one running log. Killed in the middle of a write they leave half a record at its end;
// opened again they write on behind it; opened once more they find the log damaged and throw the whole database away
// (measured: docs/decisions/0010-a-second-copy-on-the-phone.md). So what was kept also stands in the private file system
// of the page, a file each, whole or not at all. When the database is found empty, putBack() fills it from there. The
// database stays the truth, and a copy that cannot be made stops nothing.

import { ask, deviceOf, underLock } from "./database.js";
import { hasRoomFor, typeOf } from "./photos.js";
import { digestOfEnvelope, digestOfPayload, sha256 } from "./record.js";

const NAME = /^(entries|photo|pack|draft)-([0-9a-f]+)-([0-9a-z]+)$/;
const nameOf = (what, caseId, own) => `${what}-${caseId}-${own}`;
const chainOf = (rows) => `${rows[0].device}x${rows[0].n}x${rows.at(-1).n}`; // so that nothing need be read to be dropped

// A setting of ours: a write that is in the database does not wait longer than this for its copy.
const LONGEST_WAIT = 2000; // ms

export class SecondCopy {
  #last = Promise.resolve(); // one after the other: a draft that is dropped does not come back behind its dropping

  constructor(name) {
    this.name = name;
    this.isWhole = canCopy(); // as far as this window knows
  }

  words() {
    return this.isWhole
      ? "What was not sent yet stands here twice: in the database of this browser and in a second copy beside it."
      : "What was not sent yet stands here once: this browser makes no second copy, or had no room for one. Send soon, or save to a file.";
  }

  // When what was begun so far is done.
  done() {
    return this.#last;
  }

  entries(caseId, rows) {
    return this.#put(nameOf("entries", caseId, chainOf(rows)), JSON.stringify(rows));
  }

  // Only where it leaves the room that text needs.
  async photo(caseId, digest, bytes) {
    if (await hasRoomFor(bytes.byteLength)) await this.#put(nameOf("photo", caseId, digest), bytes);
    else this.isWhole = false;
  }

  pack(row) {
    return this.#put(nameOf("pack", row.case, "0"), JSON.stringify(row));
  }

  draft(row) {
    return this.#put(nameOf("draft", row.case, row.tab), JSON.stringify(row));
  }

  dropPhoto(caseId, digest) {
    return this.#drop((what, inCase, own) => what === "photo" && inCase === caseId && own === digest);
  }

  dropDrafts(caseId, tabs) {
    return this.#drop((what, inCase, own) => what === "draft" && inCase === caseId && tabs.includes(own));
  }

  dropCase(caseId) {
    return this.#drop((_what, inCase) => inCase === caseId);
  }

  // All photos: for text, when there is no room left. True if there were any.
  async dropPhotos() {
    const isAny = (await this.#drop((what) => what === "photo")) > 0;
    if (isAny) this.isWhole = false;
    return isAny;
  }

  // Entries that the office has, by its own pack, need no copy.
  dropEntriesThere(caseId, isThere) {
    return this.#drop((what, inCase, own) => {
      if (what !== "entries" || inCase !== caseId) return false;
      const [device, first, last] = own.split("x");
      for (let n = Number(first); n <= Number(last); n += 1) if (!isThere({ device, n })) return false;
      return true;
    });
  }

  // What is whole: {packs, entries, drafts} as rows of the database, photos as [case, sha256, file].
  async whole() {
    const found = { packs: [], entries: [], drafts: [], photos: [] };
    await this.#inTurn(async (folder) => {
      for (const [what, caseId, own, handle] of await filesOf(folder)) {
        if (what === "photo") found.photos.push([caseId, own, handle]);
        else {
          const held = await jsonIn(handle);
          if (what === "pack" && held) found.packs.push(held);
          if (what === "draft" && held) found.drafts.push(held);
          for (const row of what === "entries" ? (held ?? []) : []) if (await isWhole(row)) found.entries.push(row);
        }
      }
    }, Infinity);
    return found;
  }

  #put(name, held) {
    return this.#inTurn(async (folder) => {
      const stream = await (await folder.getFileHandle(name, { create: true })).createWritable();
      await stream.write(held);
      await stream.close(); // only now the file is another: whole or not at all
    });
  }

  #drop(isMeant) {
    return this.#inTurn(async (folder) => {
      const meant = (await filesOf(folder)).filter((file) => isMeant(...file));
      for (const [, , , { name }] of meant) await folder.removeEntry(name);
      return meant.length;
    });
  }

  // Does nothing where the browser has no such file system, or where it is full.
  #inTurn(body, longest = LONGEST_WAIT) {
    this.#last = this.#last.then(async () => {
      try {
        const folder = await folderOf(this.name);
        return folder ? await body(folder) : undefined;
      } catch (problem) {
        console.warn("second copy:", problem);
        this.isWhole = false;
        return undefined;
      }
    });
    if (longest === Infinity) return this.#last;
    let timer;
    const tired = new Promise((go) => (timer = setTimeout(go, longest)));
    return Promise.race([this.#last, tired]).finally(() => clearTimeout(timer));
  }
}

function canCopy() {
  return Boolean(globalThis.FileSystemFileHandle?.prototype?.createWritable && globalThis.navigator?.storage?.getDirectory);
}

async function folderOf(name) {
  return canCopy() ? (await navigator.storage.getDirectory()).getDirectoryHandle(name, { create: true }) : null;
}

// [what, case, own, handle] of each file of ours. What a killed browser left of a file that was being written is not.
async function filesOf(folder) {
  const files = [];
  for await (const [name, handle] of folder.entries()) {
    const [, what, caseId, own] = NAME.exec(name) ?? [];
    if (what) files.push([what, caseId, own, handle]);
  }
  return files;
}

async function jsonIn(handle) {
  try {
    return JSON.parse(await (await handle.getFile()).text());
  } catch {
    return null; // begun and never closed
  }
}

async function isWhole({ envelope, hash, salt, payload_text: payload }) {
  return (await digestOfEnvelope(envelope)) === hash && (await digestOfPayload(salt, payload)) === JSON.parse(envelope).payload_digest;
}

// A database without a device was never used, or was thrown away. If copies stand beside it, it was thrown away: they go
// back in, as a new device, because what the lost chain held beyond the copies may be with the office. It is said in a
// sentence. Begun and cut off, it is done again.
export async function putBack(store) {
  return underLock(`${store.name}-put-back`, async () => {
    if ((await store.meta("device")) && !(await store.meta("puttingBack"))) return;
    const found = await store.copy.whole();
    if (!(await store.meta("puttingBack")) && Object.values(found).every((rows) => rows.length === 0)) return;
    await store.database.run(["meta", "packs", "heads", "entries", "drafts"], "readwrite", (stores) => rowsBack(stores, found));
    let photos = 0;
    for (const photo of found.photos) photos += await photoBack(store, ...photo);
    await store.database.run(["meta"], "readwrite", ({ meta }) => ask(meta.delete("puttingBack")));
    const count = (number, one, many) => `${number} ${number === 1 ? one : many}`;
    store.say(`This browser threw away its database of this page. Put back from the second copy: ${count(found.entries.length, "entry", "entries")}, `
      + `${count(photos, "photo", "photos")}, ${count(found.packs.length, "case", "cases")}. Compare with what you remember, and send soon.`);
  });
}

async function rowsBack(stores, { packs, entries, drafts }) {
  const device = await deviceOf(stores.meta);
  await ask(stores.meta.put({ name: "puttingBack", value: true }));
  const absent = async (store, key, row) => {
    if ((await ask(store.getKey(key))) === undefined) await ask(store.put(row));
  };
  for (const row of packs) {
    const { opening_hash: opening, highest_clock: highest } = row.pack;
    const head = (await ask(stores.heads.get(row.case))) ?? { case: row.case, opening, device, n: -1, hash: opening, clock: 0, session: 0 };
    const clock = Math.max(head.clock, highest, ...entries.filter((entry) => entry.case === row.case).map((entry) => entry.clock));
    await absent(stores.packs, row.case, row);
    await ask(stores.heads.put({ ...head, clock }));
  }
  for (const row of entries) await absent(stores.entries, [row.case, row.device, row.n], row);
  for (const row of drafts) await absent(stores.drafts, [row.case, row.tab], row);
}

async function photoBack(store, caseId, digest, handle) {
  const file = await handle.getFile();
  const bytes = await file.arrayBuffer();
  const type = typeOf(new Uint8Array(bytes, 0, Math.min(bytes.byteLength, 12)));
  if (!type || (await sha256(bytes)) !== digest) return 0;
  await store.database.run(["photos", "photo_bytes", "entries"], "readwrite", async (stores) => {
    const rows = await ask(stores.entries.index("case").getAll(caseId));
    const named = rows.some((row) => row.payload_text.includes(digest));
    await ask(stores.photo_bytes.put({ sha256: digest, bytes }));
    await ask(stores.photos.put({
      case: caseId, sha256: digest, media_type: type, size: bytes.byteLength, state: "here", reason: "", named, bytes: true,
      troubles: 0, kept: file.lastModified, waiting: 1,
    }));
  });
  return 1;
}
