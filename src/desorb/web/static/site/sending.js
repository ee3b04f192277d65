// One round of sending: entries of every case first, then photos one by one. Entries written meanwhile go before the
// next photo: readings never wait for photos. A bad entry is found by sending smaller parts, and holds up no other.

import * as outbox from "./outbox.js";
import { ask, isPhotoTaken, resultsOf, NOT_OURS } from "./sync_answers.js";

export const MOST_AT_ONCE = 100; // entries in one request; the office takes 200
const LARGEST_REQUEST = 1 << 20; // characters in one request
const SECONDS = 30; // an entry request that is not answered; settings of ours
const SECONDS_PER_MEGABYTE = 60; // of a photo, beside SECONDS
const MOST_TROUBLE = 3; // answers 500 in a row without one success: then it is the office, not the entry
const TROUBLES = 3; // rounds in which the office failed on one entry while it works otherwise

const ENDS_ROUND = new Set(["no contact", "busy", "shut out"]);

export class Round {
  constructor(store, tools) {
    Object.assign(this, { store, tools, words: "", ended: false, sentSomething: false, inARow: 0, tried: new Set(), cases: new Set(), waiting: [] });
    this.failed = [];
  }

  async run() {
    for (;;) {
      await this.#entries();
      if (this.ended) break;
      const photo = await this.#nextPhoto();
      if (!photo) break;
      await this.#photo(photo);
      if (this.ended) break;
    }
    await this.#judgeFailed();
    outbox.onTheWay(this.store, []);
    return this;
  }

  // -- entries ------------------------------------------------------------------------------------------------------

  async #entries() {
    for (let parts = await this.#parts(); parts.length && !this.ended; parts = await this.#parts()) {
      for (const part of parts) {
        if (this.ended) return;
        await this.#send(part);
      }
    }
  }

  // What was not tried in this round, in parts of one case each; entries that failed before go last and alone.
  async #parts() {
    const rows = (await outbox.waitingRows(this.store)).entries
      .filter((row) => row.state === "here" && !this.tried.has(row.hash) && !this.stuck(row.case));
    const parts = [];
    const open = new Map();
    for (const row of rows.filter((each) => !each.troubles)) {
      const size = row.envelope.length + row.payload_text.length;
      let part = open.get(row.case);
      if (!part || part.length >= MOST_AT_ONCE || part.size + size > LARGEST_REQUEST) {
        part = Object.assign([], { size: 0 });
        open.set(row.case, part);
        parts.push(part);
      }
      part.push(row);
      part.size += size;
    }
    return [...parts, ...rows.filter((row) => row.troubles).sort((one, other) => one.troubles - other.troubles).map((row) => [row])];
  }

  stuck(caseId) {
    return this.cases.has(`not ${caseId}`);
  }

  async #send(part) {
    const caseId = part[0].case;
    if (this.stuck(caseId)) return;
    const hashes = part.map((row) => row.hash);
    outbox.onTheWay(this.store, hashes);
    const body = JSON.stringify({ entries: part.map(({ envelope, salt, payload_text: payload }) => ({ envelope, salt, payload })) });
    const answer = await ask(this.tools, `/api/cases/${caseId}/entries`, { method: "POST", headers: { "content-type": "application/json" }, body }, SECONDS);
    outbox.onTheWay(this.store, []);
    if (answer.is === "answer") {
      const results = resultsOf(answer.value, hashes);
      if (!results) return this.#end(NOT_OURS);
      hashes.forEach((hash) => this.tried.add(hash));
      await outbox.settleEntries(this.store, caseId, results, answer.value.highest_clock);
      this.#went(caseId, answer.value);
    } else await this.#didNotGo(part, answer);
  }

  async #didNotGo(part, { is, words }) {
    if (ENDS_ROUND.has(is)) return this.#end(words);
    this.words = words;
    if (is === "no case" || is === "not now") {
      this.cases.add(`not ${part[0].case}`); // other cases go on
      return undefined;
    }
    if (part.length > 1) {
      const middle = part.length >> 1;
      for (const half of [part.slice(0, middle), part.slice(middle)]) if (!this.ended) await this.#send(half);
      return undefined;
    }
    const [row] = part;
    this.tried.add(row.hash);
    if (is === "not taken") {
      await outbox.markEntry(this.store, row, { state: "refused", reason: words });
      return undefined;
    }
    this.failed.push({ row, mark: outbox.markEntry, words });
    return this.#troubled(words);
  }

  #troubled(words) {
    this.inARow += 1;
    if (this.inARow >= MOST_TROUBLE) this.#end(words);
  }

  #went(caseId, value) {
    this.sentSomething = true;
    this.inARow = 0;
    this.cases.add(caseId);
    if (Array.isArray(value?.waiting)) this.waiting = value.waiting.filter((gap) => typeof gap === "string");
    this.tools.contact();
  }

  #end(words) {
    this.words = words;
    this.ended = true;
  }

  // When the office works all the same (it took something in this round, or gives the case when asked), a failure was the
  // fault of what was sent. After a few rounds of that it is set aside here, with its reason.
  async #judgeFailed() {
    for (const { row, mark, words } of this.failed) {
      const troubles = row.troubles + 1;
      const isAside = troubles >= TROUBLES && (this.sentSomething || (await this.#officeWorks(row.case)));
      await mark(this.store, row, { troubles, reason: `The office failed on this ${troubles} times: ${words}`, state: isAside ? "refused" : "here" });
    }
  }

  async #officeWorks(caseId) {
    return (await ask(this.tools, `/api/cases/${caseId}/pack`, { method: "GET" }, SECONDS)).is === "answer";
  }

  // -- photos -------------------------------------------------------------------------------------------------------

  async #nextPhoto() {
    const { photos } = await outbox.waitingRows(this.store);
    const able = photos.filter((row) => row.named && row.state === "here" && !this.tried.has(`${row.case} ${row.sha256}`) && !this.stuck(row.case));
    return able.sort((one, other) => one.troubles - other.troubles)[0];
  }

  async #photo(row) {
    this.tried.add(`${row.case} ${row.sha256}`);
    const bytes = await outbox.photoBytes(this.store, row.sha256);
    if (!bytes) {
      await outbox.markPhoto(this.store, row, { state: "refused", reason: "Its bytes are not on this phone any more. Take it again." });
      return undefined;
    }
    outbox.onTheWay(this.store, [row.sha256]);
    const seconds = SECONDS + (SECONDS_PER_MEGABYTE * bytes.byteLength) / 1e6;
    const options = { method: "PUT", headers: { "content-type": row.media_type }, body: bytes };
    const answer = await ask(this.tools, `/api/cases/${row.case}/photos/${row.sha256}`, options, seconds);
    outbox.onTheWay(this.store, []);
    if (answer.is === "answer") {
      if (!isPhotoTaken(answer.value, row.sha256)) return this.#end(NOT_OURS);
      await outbox.markPhoto(this.store, row, { state: "received", reason: "", troubles: 0 });
      return this.#went(row.case, null);
    }
    this.words = answer.words;
    if (answer.is === "busy") {
      await outbox.markPhoto(this.store, row, { reason: answer.words }); // no room for photos: text is still taken
      return this.#end(answer.words);
    }
    if (ENDS_ROUND.has(answer.is)) return this.#end(answer.words);
    if (answer.is === "no case" || answer.is === "not now") this.cases.add(`not ${row.case}`);
    else if (answer.is === "not taken") await outbox.markPhoto(this.store, row, { state: "refused", reason: answer.words });
    else {
      this.failed.push({ row, mark: outbox.markPhoto, words: answer.words });
      this.#troubled(answer.words);
    }
    return undefined;
  }
}
