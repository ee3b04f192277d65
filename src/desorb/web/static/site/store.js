// The record on this device: cases taken along, entries made here, photos, drafts. Everything stands in IndexedDB.
//
// openStore() -> SiteStore. The parts it is made of: database.js (transactions), record.js (sealing), device_clock.js,
// photos.js, drafts.js, outbox.js (what sync.js sends), keeping.js (room, ages, the file of unsent work), second_copy.js.
// What write() resolved for is on this device. Whether the office has received it is another fact: `state`.

import { Counter, claimedAt } from "./device_clock.js";
import { Database, NAME, VERSION, ask, deviceOf, underLock } from "./database.js";
import * as drafts from "./drafts.js";
import * as keeping from "./keeping.js";
import * as outbox from "./outbox.js";
import * as packs from "./packs.js";
import * as photos from "./photos.js";
import { Refusal } from "./refusal.js";
import { randomHex, seal } from "./record.js";
import { SecondCopy, putBack } from "./second_copy.js";

const MOST_TRIES = 50; // of a write that another window overtakes; a lock lets none through, so this is never reached

export async function openStore(options = {}) {
  const store = new SiteStore(options);
  await putBack(store);
  await store.device();
  return store;
}

export class SiteStore {
  #listeners = new Set();
  #channel = null;
  sending = new Set(); // hashes that are on their way: never written down, so a killed page leaves none behind

  constructor({ name = NAME, version = VERSION, now = () => Date.now(), tick, say } = {}) {
    Object.assign(this, { name, now, counter: new Counter(tick), tab: randomHex(8), handedOut: new Map() });
    this.words = []; // sentences that the person must read, newest last; onChange tells {what: "words"}
    this.say = (sentence) => this.#heard(sentence, say);
    this.database = new Database({ name, version, say: this.say, beforeClosing: () => this.beforeClosing() });
    this.copy = new SecondCopy(name);
    this.beforeClosing = () => {};
    if ("BroadcastChannel" in globalThis) {
      this.#channel = new BroadcastChannel(name);
      this.#channel.onmessage = ({ data }) => {
        if (data.what === "sending") this.sending = new Set(data.hashes);
        this.#tell(data);
      };
    }
    drafts.holdTab(this);
  }

  // -- what changed -------------------------------------------------------------------------------------------------

  // callback({what, case}): what is entries, photos, packs, drafts, sending, contact or words; from any window.
  onChange(callback) {
    this.#listeners.add(callback);
    return () => this.#listeners.delete(callback);
  }

  changed(change) {
    this.#channel?.postMessage(change);
    this.#tell(change);
  }

  #tell(change) {
    for (const listener of [...this.#listeners]) {
      try {
        listener(change);
      } catch (problem) {
        console.error(problem); // one listener does not stop the others, nor what was being done
      }
    }
  }

  #heard(sentence, say) {
    this.words.push(sentence);
    say?.(sentence);
    this.#tell({ what: "words", words: sentence });
  }

  // -- settings of this device --------------------------------------------------------------------------------------

  async meta(name) {
    return this.database.run(["meta"], "readonly", async ({ meta }) => (await ask(meta.get(name)))?.value);
  }

  async setMeta(name, value) {
    await this.database.run(["meta"], "readwrite", ({ meta }) => ask(meta.put({ name, value })));
  }

  // The id of this device: random, made once for each storage. A cleared storage is a new device; one that the browser
  // threw away, also while this page was open, is filled again first.
  async device() {
    const known = await this.meta("device");
    if (known) return known;
    await putBack(this);
    return this.database.run(["meta"], "readwrite", ({ meta }) => deviceOf(meta));
  }

  // -- writing ------------------------------------------------------------------------------------------------------

  async write(caseId, kind, payload) {
    return (await this.writeAll(caseId, [[kind, payload]]))[0];
  }

  // All of them or none, in one transaction with the head of the chain, on the disk before this resolves.
  async writeAll(caseId, kindsAndPayloads) {
    if (kindsAndPayloads.length === 0) return [];
    return underLock(`${this.name}-write-${caseId}`, async () => {
      for (let attempt = 0; attempt < MOST_TRIES; attempt += 1) {
        await this.device();
        const head = await this.#headFor(caseId);
        const sealed = await this.#seal(head, kindsAndPayloads);
        const kept = await this.#keep(head, sealed);
        if (kept) {
          await this.copy.entries(caseId, kept);
          this.changed({ what: "entries", case: caseId });
          return kept.map((row) => outbox.shown(row, this.sending));
        }
      }
      throw new Refusal("another window writes in this case all the time", "", "close the other window, then do it again");
    });
  }

  async #headFor(caseId) {
    return this.database.run(["heads", "packs", "meta"], "readwrite", async ({ heads, packs: taken, meta }) => {
      if (!(await ask(taken.getKey(caseId)))) {
        throw new Refusal("this case is not on this device", "it was never taken along, or the browser cleared it", "open the case from the list while there is a network");
      }
      const head = await ask(heads.get(caseId));
      const device = await deviceOf(meta);
      if (this.counter.mustBegin(head.session)) this.counter.begin(await nextSession(meta));
      return head.device === device ? head : { ...head, device, n: -1, hash: head.opening };
    });
  }

  async #seal(head, kindsAndPayloads) {
    const sealed = [];
    let { n, clock, hash: prev } = head;
    const claimed = claimedAt(this.now());
    for (const [kind, payload] of kindsAndPayloads) {
      n += 1;
      clock += 1;
      const entry = await seal({
        caseId: head.case, device: head.device, n, prev, clock, kind, claimedAt: claimed, monotonic: this.counter.read(), payload,
      });
      prev = entry.hash;
      sealed.push(entry);
    }
    return sealed;
  }

  // Nothing when the head moved since it was read: then the entries are sealed anew.
  async #keep(head, sealed) {
    const rows = sealed.map((entry) => ({
      ...entry, state: "here", reason: "", received_at: "", troubles: 0, made: this.now(), waiting: 1,
    }));
    const last = sealed.at(-1);
    const write = () => this.database.run(["heads", "entries", "photos"], "readwrite", async (stores) => {
      const now = await ask(stores.heads.get(head.case));
      const before = now.device === head.device ? now : { ...now, n: -1, hash: now.opening };
      if (before.n !== head.n || before.hash !== head.hash || now.clock !== head.clock) return null;
      for (const row of rows) await ask(stores.entries.add(row));
      await photos.nameThem(stores.photos, head.case, rows);
      await ask(stores.heads.put({ ...now, device: head.device, n: last.n, hash: last.hash, clock: last.clock, session: this.counter.number }));
      return rows;
    });
    try {
      return await write();
    } catch (problem) {
      if (!problem.full || !(await photos.makeRoom(this))) throw problem;
      return write();
    }
  }

  // -- reading ------------------------------------------------------------------------------------------------------

  async entries(caseId) {
    return outbox.entriesOf(this, caseId);
  }

  // Waiting for the office: {entries, photos, loose (photos no entry names yet), refused, oldest, lastContact}.
  async totals() {
    return outbox.totals(this);
  }

  async cases() {
    return packs.cases(this);
  }

  async pack(caseId) {
    return packs.pack(this, caseId);
  }

  async savePack(pack) {
    return packs.savePack(this, pack);
  }

  // Entries made here that the pack on this device does not hold yet: show them on top of it.
  async beyondPack(caseId) {
    return packs.beyondPack(this, caseId);
  }

  async forgetCase(caseId) {
    return packs.forgetCase(this, caseId);
  }

  // -- photos and drafts --------------------------------------------------------------------------------------------

  async keepPhoto(caseId, blob) {
    return photos.keepPhoto(this, caseId, blob);
  }

  async photo(sha256) {
    return photos.photo(this, sha256);
  }

  async photos(caseId) {
    return photos.photosOf(this, caseId);
  }

  async dropPhoto(caseId, sha256) {
    return photos.dropPhoto(this, caseId, sha256);
  }

  async draft(caseId) {
    return drafts.draft(this, caseId);
  }

  // Every draft this window may go on with, newest first; saveDraft() then stands for all of them.
  async drafts(caseId) {
    return drafts.drafts(this, caseId);
  }

  async saveDraft(caseId, value) {
    return drafts.saveDraft(this, caseId, value);
  }

  async dropDraft(caseId) {
    return drafts.dropDraft(this, caseId);
  }

  // -- room, ages, the file of unsent work --------------------------------------------------------------------------

  async storageTruth() {
    return keeping.storageTruth(this);
  }

  async askToKeep() {
    return keeping.askToKeep(this);
  }

  async ageWords(now = this.now()) {
    return keeping.ageWords(await this.totals(), now);
  }

  async fileOfUnsent() {
    return keeping.fileOfUnsent(this);
  }

  // Days after which what the office has received may leave this device; 0 (as it begins): it stays until the case goes.
  async keepFor(days) {
    await this.setMeta("keepDays", Math.max(0, Math.floor(days)));
  }

  async tidy() {
    return keeping.tidy(this);
  }

  // The page was hidden or frozen: the counter of this counting ends (see device_clock.js).
  pause() {
    this.counter.pause();
  }

  async close() {
    this.#channel?.close();
    await this.database.close();
  }
}

async function nextSession(meta) {
  const value = ((await ask(meta.get("session")))?.value ?? 0) + 1;
  await ask(meta.put({ name: "session", value }));
  return value;
}
