// The database of this device: one IndexedDB, opened once, closed when a newer page wants to change its form.
//
// Transactions that keep something are "strict": they are said to be done when the browser was told to put them on the
// disk, not only into memory. A change of form only ever adds stores or indexes, so a page of the version before goes on
// working after it: it closes at once when asked (nobody waits for it), and opens again in whatever form it then finds.

import { Refusal, isFull, noRoom } from "./refusal.js";
import { randomHex } from "./record.js";

export const NAME = "desorb-site";
export const VERSION = 1;

const FORM = [
  { name: "meta", keyPath: "name" },
  { name: "packs", keyPath: "case" },
  { name: "heads", keyPath: "case" },
  { name: "entries", keyPath: ["case", "device", "n"], indexes: ["waiting", "case", "hash"] },
  { name: "photos", keyPath: ["case", "sha256"], indexes: ["waiting", "case", "sha256"] },
  { name: "photo_bytes", keyPath: "sha256" },
  { name: "drafts", keyPath: ["case", "tab"], indexes: ["case"] },
];

export const ask = (request) =>
  new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });

export class Database {
  #opening = null;
  #asked = false;

  // `say` gets a sentence when the person must know: another window holds up a new version, or storage was cleared.
  constructor({ name = NAME, version = VERSION, say = () => {}, beforeClosing = () => {} } = {}) {
    Object.assign(this, { name, version, say, beforeClosing });
  }

  connection() {
    this.#opening ??= this.#open().catch((problem) => {
      this.#opening = null;
      throw problem;
    });
    return this.#opening;
  }

  #open() {
    return new Promise((done, failed) => {
      const request = this.#asked ? indexedDB.open(this.name) : indexedDB.open(this.name, this.version);
      request.onupgradeneeded = () => grow(request.result, request.transaction);
      request.onblocked = () => this.say("Another window of this page holds up a new version: close the other window. Nothing is lost meanwhile.");
      request.onerror = () => {
        if (request.error?.name === "VersionError" && !this.#asked) {
          this.#asked = true; // a newer page was here: its form only adds, so this page can use it
          this.#open().then(done, failed);
        } else failed(notOpened(request.error));
      };
      request.onsuccess = () => {
        const connection = request.result;
        if (!FORM.every(({ name }) => connection.objectStoreNames.contains(name))) {
          this.#again(connection).then(done, failed);
          return;
        }
        this.#asked = true;
        connection.onversionchange = () => {
          try {
            this.beforeClosing(); // drafts go out first; a close waits for the transactions that were begun
          } finally {
            this.#opening = null;
            connection.close();
          }
        };
        connection.onclose = () => {
          this.#opening = null;
          this.#asked = false;
          this.say("The storage of this page was closed by the browser; it may have been cleared. Look at what stands here before going on.");
        };
        done(connection);
      };
    });
  }

  // Opened in no particular form, it has none of ours: the storage was cleared meanwhile, or an older page made it anew.
  async #again(connection) {
    const isEmpty = connection.objectStoreNames.length === 0;
    connection.close();
    this.#asked = false;
    if (isEmpty) await ask(indexedDB.deleteDatabase(this.name));
    return this.#open();
  }

  // One transaction. `body` gets the stores by name and may await nothing but their requests. All or nothing.
  async run(names, mode, body, durability = "strict") {
    for (let attempt = 0; ; attempt += 1) {
      const connection = await this.connection();
      let transaction;
      try {
        transaction = connection.transaction(names, mode, { durability });
      } catch (problem) {
        if (problem.name !== "InvalidStateError" || attempt > 2) throw problem;
        this.#opening = null; // it was closing; open again
        continue;
      }
      try {
        return await inside(transaction, names, body);
      } catch (problem) {
        if (problem.lost) this.#opening = null; // some browsers lose the connection in the background: the next one opens anew
        throw problem;
      }
    }
  }

  async close() {
    const opening = this.#opening;
    this.#opening = null;
    if (opening) (await opening).close();
  }
}

function inside(transaction, names, body) {
  return new Promise((done, failed) => {
    let value;
    let problem = null;
    transaction.oncomplete = () => done(value);
    transaction.onabort = () => failed(inWords(isFull(transaction.error) ? transaction.error : (problem ?? transaction.error)));
    const stores = Object.fromEntries(names.map((name) => [name, transaction.objectStore(name)]));
    const stop = (reason) => {
      problem = reason;
      try {
        transaction.abort();
      } catch {
        failed(inWords(reason)); // it had ended before
      }
    };
    try {
      Promise.resolve(body(stores, transaction)).then((result) => (value = result), stop);
    } catch (reason) {
      stop(reason);
    }
  });
}

function grow(database, transaction) {
  for (const { name, keyPath, indexes = [] } of FORM) {
    const store = database.objectStoreNames.contains(name) ? transaction.objectStore(name) : database.createObjectStore(name, { keyPath });
    for (const index of indexes) if (!store.indexNames.contains(index)) store.createIndex(index, index);
  }
}

function inWords(problem) {
  if (problem instanceof Refusal) return problem;
  if (isFull(problem)) return noRoom("this could not be kept on this phone");
  const why = problem ? `${problem.name}: ${problem.message}` : "the browser gave no reason";
  const refusal = new Refusal("this could not be kept on this phone", why, "do it again; if it stays, save what is unsent to a file");
  return Object.assign(refusal, { lost: problem?.name === "UnknownError" || problem?.name === "InvalidStateError" });
}

function notOpened(problem) {
  const next = "open this page in an ordinary window, not a private one, and allow it to keep data";
  return new Refusal("this browser does not let this page keep anything", problem ? `${problem.name}: ${problem.message}` : "", next);
}

// The id of this device, made where there is none, in the transaction that needs it.
export async function deviceOf(meta) {
  const known = await ask(meta.get("device"));
  if (known) return known.value;
  const value = randomHex(4);
  await ask(meta.put({ name: "device", value }));
  return value;
}

// Where the browser has locks, one window at a time; without them the transaction still notices who was overtaken.
export async function underLock(name, body) {
  return globalThis.navigator?.locks ? navigator.locks.request(name, body) : body();
}
