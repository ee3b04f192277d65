// Sends what waits. Nothing of the browser's background sync is needed: it works on a timer (at most 30 s while
// something waits), when the page is seen again, when the network is said to be back, and on a button. When nothing
// waits there is no timer at all. Two windows share one sender: a round runs under a lock, and reads the queue inside.

import { Round } from "./sending.js";
import { ask, endTimer } from "./sync_answers.js";
import { underLock } from "./database.js";
import * as outbox from "./outbox.js";

const SOON = 300; // ms after something was written
export const DELAYS = [2000, 5000, 10000, 20000, 30000]; // ms between tries while something waits; settings of ours
const PACK_SECONDS = 60;

export function startSending(store, options = {}) {
  return new Sender(store, options);
}

class Sender {
  #timer = null;
  #running = null;
  #isStopped = false;
  #failures = 0;
  #stopListening = [];

  constructor(store, { fetch = (...request) => globalThis.fetch(...request), now = () => Date.now(), setTimer = ordinaryTimer } = {}) {
    Object.assign(this, { store, now, words: "", waiting: [], isSending: false });
    this.tools = { fetch, setTimer, stoppable: new Set(), contact: () => this.#contact() };
    this.setTimer = setTimer;
    this.#stopListening.push(store.onChange(({ what }) => {
      if (["entries", "photos", "packs"].includes(what) && !this.isSending) this.#soon();
    }));
    this.#listen(globalThis, "online", () => this.#now());
    this.#listen(globalThis, "pageshow", () => this.#now());
    if (globalThis.document) {
      this.#listen(document, "visibilitychange", () => document.visibilityState === "visible" && this.#now());
      this.#listen(document, "freeze", () => this.#stopRequests()); // a frozen page must not hold the lock
      this.#listen(document, "resume", () => this.#now());
    }
    this.#listen(globalThis, "pagehide", () => this.#stopRequests());
    this.#now();
  }

  // -- what others use ----------------------------------------------------------------------------------------------

  // Try at once, also what was set aside on this device. Resolves when the round is over.
  async sendNow() {
    await this.#tryAgainRefused();
    if (this.#running) await this.#running; // what it had read may be older than what waits now
    return this.#round(true);
  }

  stop() {
    this.#isStopped = true;
    this.#cancelTimer();
    this.#stopRequests();
    this.#stopListening.forEach((end) => end());
  }

  // {isSending, words: why something still waits, waiting: gaps the office sees, retrying: a timer runs}
  state() {
    return { isSending: this.isSending, words: this.words, waiting: this.waiting, retrying: this.#timer !== null };
  }

  // Resolves when no round is running.
  async settled() {
    while (this.#running) await this.#running;
  }

  // Fetch a case, or fetch it anew. What stands on this device stays beside it. {ok, words}
  async refreshPack(caseId) {
    const answer = await ask(this.tools, `/api/cases/${caseId}/pack`, { method: "GET" }, PACK_SECONDS);
    if (answer.is !== "answer") return { ok: false, words: answer.words };
    try {
      if (answer.value?.case?.id !== caseId) return { ok: false, words: "What answered is no pack of this case." };
      await this.store.savePack(answer.value);
      await this.store.keepFor(answer.value.keep_days ?? 0);
    } catch (problem) {
      return { ok: false, words: problem.message };
    }
    await this.#contact();
    return { ok: true, words: "" };
  }

  // -- rounds -------------------------------------------------------------------------------------------------------

  async #now() {
    if (this.#isStopped) return;
    this.#cancelTimer();
    await this.#round(false);
  }

  #soon() {
    if (this.#isStopped || this.#timer) return; // a timer runs: a failing network is not asked at every keystroke
    this.#set(SOON);
  }

  #round(mayWait) {
    if (this.#isStopped) return Promise.resolve(this.state());
    this.#running ??= this.#oneRound(mayWait).finally(() => (this.#running = null));
    return this.#running;
  }

  async #oneRound(mayWait) {
    this.#cancelTimer();
    try {
      const run = () => this.#underLock();
      const name = `${this.store.name}-sender`;
      if (mayWait || !globalThis.navigator?.locks) await underLock(name, run);
      else await navigator.locks.request(name, { ifAvailable: true }, (lock) => (lock ? run() : undefined));
    } catch (problem) {
      this.words = problem.message;
      this.#failures += 1;
    } finally {
      this.isSending = false;
    }
    await this.#plan();
    return this.state();
  }

  async #underLock() {
    if (!(await this.#hasWork())) {
      this.words = "";
      this.#failures = 0;
      return;
    }
    this.isSending = true;
    const round = await new Round(this.store, this.tools).run();
    this.words = round.words;
    this.waiting = round.waiting;
    this.#failures = round.sentSomething ? 0 : this.#failures + 1;
    for (const caseId of round.cases) if (round.sentSomething && !caseId.startsWith("not ") && !round.ended) await this.refreshPack(caseId);
    if (round.sentSomething) await this.store.tidy();
  }

  async #hasWork() {
    const { entries, photos } = await outbox.waitingRows(this.store);
    return entries.some((row) => row.state === "here") || photos.some((row) => row.named && row.state === "here");
  }

  async #plan() {
    if (this.#isStopped || this.#timer) return;
    let hasWork = true;
    try {
      hasWork = await this.#hasWork();
    } catch {
      // The database could not be read: look again later.
    }
    if (hasWork) this.#set(DELAYS[Math.min(this.#failures, DELAYS.length - 1)]);
    else this.words = "";
  }

  async #tryAgainRefused() {
    const { entries, photos } = await outbox.waitingRows(this.store);
    const again = { state: "here", troubles: 0, reason: "" };
    for (const row of entries.filter((each) => each.state === "refused")) await outbox.markEntry(this.store, row, again);
    for (const row of photos.filter((each) => each.state === "refused")) await outbox.markPhoto(this.store, row, again);
  }

  async #contact() {
    const value = new Date(this.now()).toISOString();
    await this.store.setMeta("lastContact", value);
    this.store.changed({ what: "contact" });
  }

  #set(delay) {
    this.#cancelTimer();
    this.#timer = this.setTimer(() => {
      this.#timer = null;
      this.#round(false);
    }, delay);
  }

  #cancelTimer() {
    endTimer(this.#timer);
    this.#timer = null;
  }

  #stopRequests() {
    for (const control of this.tools.stoppable) control.abort();
  }

  #listen(target, name, callback) {
    target.addEventListener?.(name, callback);
    this.#stopListening.push(() => target.removeEventListener?.(name, callback));
  }
}

// setTimer(callback, milliseconds) -> {stop()}, or what clearTimeout takes.
function ordinaryTimer(callback, milliseconds) {
  return setTimeout(callback, milliseconds);
}
