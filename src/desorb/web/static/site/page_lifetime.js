// The life of one page: its service worker, new versions, and what must be written down before it goes to sleep.
//
// startLifetime(store, {onNewVersion}) -> {takeNewVersion(), typed(caseId, value), flush(), onFlush(callback), stop()}
// No page is reloaded by force. When a new version waits, onNewVersion() is called and the event "desorb:new-version" is
// fired on document; take it when no draft is open. After takeNewVersion() the page loads itself anew, and no other.

export const DRAFT_DELAY = 300; // ms after the last keystroke
const WORKER = "/site/service-worker.js";
const CHECK_AFTER = 3600 * 1000; // a page that is seen again looks for a new version at most once an hour

export function startLifetime(store, options = {}) {
  return new Lifetime(store, options);
}

class Lifetime {
  #typed = new Map(); // case -> the newest value not yet saved
  #timer = null;
  #flushers = new Set();
  #registration = null;
  #checked = 0;
  #isTaking = false;
  #end = [];

  constructor(store, { onNewVersion = () => {}, now = () => Date.now(), onTrouble = () => {}, reload = () => location.reload(), delay = DRAFT_DELAY } = {}) {
    Object.assign(this, { store, now, onTrouble, reload, onNewVersion, delay });
    store.beforeClosing = () => this.flush();
    this.#listen(document, "visibilitychange", () => (document.visibilityState === "hidden" ? this.#asleep() : this.#awake()));
    this.#listen(document, "freeze", () => this.#asleep());
    this.#listen(globalThis, "pagehide", () => this.#asleep());
    this.ready = this.#register();
  }

  // -- drafts -------------------------------------------------------------------------------------------------------

  // What stands in the fields now. Saved 300 ms after the last call, and at once when the page is hidden.
  typed(caseId, value) {
    this.#typed.set(caseId, value);
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.flush(), this.delay);
  }

  onFlush(callback) {
    this.#flushers.add(callback);
    return () => this.#flushers.delete(callback);
  }

  // Every write is begun before this returns for the first time: the browser finishes them even when the page dies.
  async flush() {
    clearTimeout(this.#timer);
    const typed = [...this.#typed];
    this.#typed.clear();
    const saving = typed.map(([caseId, value]) => this.store.saveDraft(caseId, value).catch((problem) => {
      if (!this.#typed.has(caseId)) this.#typed.set(caseId, value); // tried again at the next keystroke or pause
      this.onTrouble(problem);
    }));
    const others = [...this.#flushers].map(async (flusher) => flusher());
    await Promise.allSettled([...saving, ...others]);
  }

  #asleep() {
    this.store.pause();
    return this.flush();
  }

  #awake() {
    this.store.pause();
    if (this.now() - this.#checked > CHECK_AFTER) this.#check();
  }

  // -- new versions -------------------------------------------------------------------------------------------------

  async #register() {
    const container = navigator.serviceWorker;
    if (!container) return null;
    this.#listen(container, "controllerchange", () => {
      if (this.#isTaking) this.reload();
    });
    try {
      this.#registration = await container.register(WORKER, { scope: "/site/", updateViaCache: "none" });
    } catch {
      return null; // no network at the first visit, or a browser that keeps no worker: the page works, with a network
    }
    this.#checked = this.now();
    if (this.#registration?.waiting && container.controller) this.#tellNew();
    this.#listen(this.#registration, "updatefound", () => {
      const worker = this.#registration.installing;
      worker?.addEventListener("statechange", () => {
        if (worker.state === "installed" && container.controller) this.#tellNew();
      });
    });
    return this.#registration;
  }

  #check() {
    this.#checked = this.now();
    this.#registration?.update().catch(() => {}); // no network: the version here goes on
  }

  #tellNew() {
    document.dispatchEvent(new CustomEvent("desorb:new-version"));
    this.onNewVersion();
  }

  get newVersionWaits() {
    return Boolean(this.#registration?.waiting);
  }

  // In answer to a tap. Everything typed is saved first; the page then loads the new version.
  async takeNewVersion() {
    await this.flush();
    if (!this.#registration?.waiting) return false;
    this.#isTaking = true;
    this.#registration.waiting.postMessage("take-over");
    return true;
  }

  stop() {
    clearTimeout(this.#timer);
    this.#end.forEach((end) => end());
  }

  #listen(target, name, callback) {
    target.addEventListener(name, callback);
    this.#end.push(() => target.removeEventListener(name, callback));
  }
}
