// Drafts: what was begun and is not saved yet. They survive a kill of the page, and of the browser.
//
// A draft is saved often (every 300 ms while typing, see page_lifetime.js), so its transaction is "relaxed": a killed
// browser loses nothing by that, only a power cut could lose the last seconds of something that nobody was told is
// saved, and the flash of the phone is not written to for every keystroke. The commit is sent off at once, so that it
// also arrives when the page dies right after.
// Each window has a draft of its own for each case: two windows never overwrite one another. draft() gives this window's
// own, else the newest one that a window left behind. A window that lives keeps its draft to itself.

import { ask } from "./database.js";

const lockOf = (store, tab) => `${store.name}-tab-${tab}`;

// Held while this window lives: another window can tell whether a draft was left behind.
export function holdTab(store) {
  globalThis.navigator?.locks?.request(lockOf(store, store.tab), () => new Promise(() => {})).catch(() => {});
}

// A page that is being left lets go of its lock a moment later than the next one begins: after a reload its draft would
// pass for that of a living window. So the first look waits for those that are leaving, and for living ones no longer.
const LEAVING = 500; // ms

async function leavingAreGone(store) {
  const { held } = await navigator.locks.query();
  const others = held.map(({ name }) => name).filter((name) => name.startsWith(lockOf(store, "")) && name !== lockOf(store, store.tab));
  await Promise.all(others.map((name) => navigator.locks.request(name, { signal: AbortSignal.timeout(LEAVING) }, () => {}).catch(() => {})));
}

async function livingTabs(store) {
  if (!globalThis.navigator?.locks) return new Set();
  await (store.leaving ??= leavingAreGone(store));
  const { held } = await navigator.locks.query();
  const start = lockOf(store, "");
  return new Set(held.filter(({ name }) => name.startsWith(start)).map(({ name }) => name.slice(start.length)));
}

export async function draft(store, caseId) {
  const [first] = await drafts(store, caseId, 1);
  return first ?? null;
}

// Every draft this window may go on with: its own first, then those left behind, newest first. Saving one's own draft
// means to have taken over what was given here; dropping it drops them too.
export async function drafts(store, caseId, most = Infinity) {
  const living = await livingTabs(store);
  const rows = await store.database.run(["drafts"], "readonly", ({ drafts: kept }) => ask(kept.index("case").getAll(caseId)));
  const own = rows.find((row) => row.tab === store.tab);
  const taken = new Set(rows.flatMap((row) => row.follows));
  const left = rows.filter((row) => row !== own && !living.has(row.tab) && !taken.has(row.tab)).sort((one, other) => other.saved - one.saved);
  const given = left.slice(0, own ? most - 1 : most);
  const before = store.handedOut.get(caseId) ?? own?.follows ?? [];
  if (given.length) store.handedOut.set(caseId, [...new Set([...before, ...given.flatMap((row) => [row.tab, ...row.follows])])]);
  return [...(own ? [own] : []), ...given].map((row) => row.value);
}

// Does a draft hold something that was begun? One that says what stands in its forms may hold only what carries over.
export function isBegun(value) {
  if (typeof value?.forms !== "object") return true;
  return Object.keys(value.forms).length > 0 || (value.aside?.length ?? 0) > 0;
}

export async function saveDraft(store, caseId, value) {
  const row = { case: caseId, tab: store.tab, value, saved: store.now(), follows: store.handedOut.get(caseId) ?? [] };
  await store.database.run(["drafts"], "readwrite", ({ drafts }, transaction) => {
    const put = ask(drafts.put(row));
    transaction.commit?.();
    return put;
  }, "relaxed");
  store.copy.draft(row); // follows: nobody is told that a draft is saved, and the next one must not wait for this
  store.changed({ what: "drafts", case: caseId });
}

// This window's draft, and the one it was given to go on with.
export async function dropDraft(store, caseId) {
  const tabs = [store.tab, ...(store.handedOut.get(caseId) ?? [])];
  await store.database.run(["drafts"], "readwrite", async ({ drafts }) => {
    for (const tab of tabs) await ask(drafts.delete([caseId, tab]));
  });
  store.copy.dropDrafts(caseId, tabs);
  store.handedOut.delete(caseId);
  store.changed({ what: "drafts", case: caseId });
}
