// The page for the site: one shell, opened once and then without any network. Every screen is a function that gives
// {title, back, body}; the address after # says which one is open.

import { h, fill } from "./dom.js";
import { jobOf } from "./job.js";
import { payload } from "./kinds.js";
import { refreshMarks } from "./marks.js";
import { startLifetime } from "./page_lifetime.js";
import { showRecovery } from "./recovery.js";
import { openStore } from "./store.js";
import { startSending } from "./sync.js";
import { Undo } from "./undo.js";
import { Unsaved } from "./unsaved.js";
import { clockTime, count, entryWords, moment } from "./words.js";
import { SCREENS } from "./screens.js";

const at = (id) => document.getElementById(id);
let open = { caseId: "", route: "" };
let turn = 0;

const here = {
  at, store: null, drafts: null, sending: null, undo: null, params: new URLSearchParams(),
  announce: (words) => fill(at("said"), words),
  trouble(problem) {
    console.error(problem);
    fill(at("trouble"), `${problem?.message ?? problem} What you typed still stands here.`).hidden = false;
  },
  go: (route) => (location.hash === `#${route}` ? show() : location.assign(`#${route}`)),
  again: () => show(),
  async job(caseId) {
    const pack = await here.store.pack(caseId);
    return pack ? jobOf(pack, await here.store.entries(caseId), await here.store.device()) : null;
  },
  who: (job) => job.visit?.by || job.by || "",
  // Write one entry and offer to undo it.
  async write(job, kind, values, { undo = true, undone } = {}) {
    const entry = await here.store.write(job.id, kind, payload(kind, values));
    if (undo) here.offerUndo(job, entry, undone);
    return entry;
  },
  offerUndo(job, entry, undone = here.again) {
    here.undo.offer(entryWords(entry), async () => {
      await here.strike(job, entry, "undone at once");
      await undone(entry);
    });
  },
  strike: (job, entry, why) => here.store.write(job.id, "strike", payload("strike", { target: entry.hash, why, by: here.who(job), at: moment() })),
};

async function showTotals() {
  const { entries, photos, refused, lastContact } = await here.store.totals();
  const waits = `${entries === 1 ? "1 entry" : `${entries} entries`}, ${count(photos, "photo")} unsent${refused ? `, ${refused} refused` : ""}`;
  const words = `${waits}; ${lastContact ? `office ${clockTime(lastContact)}` : "no office yet"}`;
  if (at("totals").textContent !== words) at("totals").textContent = words;
  await refreshMarks(at("screen"), here.store, open.caseId);
}

// One run at a time, and one more if something changed meanwhile.
let counting = null, countAgain = false;
function totalsSoon() {
  if (counting) countAgain = true;
  else {
    counting = showTotals().catch(here.trouble).finally(() => {
      counting = null;
      if (countAgain) totalsSoon((countAgain = false));
    });
  }
}

async function show() {
  const mine = (turn += 1);
  const [path, query = ""] = location.hash.replace(/^#/, "").split("?");
  const parts = path.split("/").filter(Boolean).map(decodeURIComponent);
  here.params = new URLSearchParams(query);
  const [name, screen] = SCREENS.find(([pattern]) => pattern.split("/").length === parts.length
    && pattern.split("/").every((part, position) => part.startsWith(":") || part === parts[position])) ?? SCREENS[0];
  const args = name.split("/").flatMap((part, position) => (part.startsWith(":") ? [parts[position]] : []));
  try {
    const caseId = parts[0] === "c" ? parts[1] : "";
    const job = caseId ? await here.job(caseId) : null;
    if (job) await here.drafts.load(caseId);
    const shown = caseId && !job ? notHere() : await screen(here, job, ...args.slice(caseId ? 1 : 0));
    if (mine !== turn) return; // the person went on meanwhile
    const sameScreen = open.route === location.hash;
    open.leave?.();
    open = { caseId, route: location.hash, leave: shown.leave };
    at("trouble").hidden = true;
    document.title = `${shown.title}: desorb on site`;
    at("title").textContent = shown.title;
    at("back").hidden = shown.back === undefined;
    at("back").setAttribute("href", `#${shown.back ?? "/"}`);
    document.body.classList.toggle("full", Boolean(shown.full));
    fill(at("screen"), shown.body);
    const offered = showRecovery(here, at("recovery"));
    shown.opened?.();
    if (!sameScreen && !shown.keepsFocus) at("title").focus({ preventScroll: true });
    if (!sameScreen && !shown.full) scrollTo(0, 0);
    totalsSoon();
    await offered; // the page is ready when what was left unsaved is offered, not before
  } catch (problem) {
    here.trouble(problem);
  }
}

const notHere = () => ({
  title: "Not on this device", back: "/",
  body: h("p", {}, "This case is not on this device. Get it from the office while there is a network."),
});

function themeSwitch() {
  const root = document.documentElement, button = at("light");
  const isDark = () => (root.dataset.theme ? root.dataset.theme === "dark" : matchMedia("(prefers-color-scheme: dark)").matches);
  const words = () => {
    button.textContent = isDark() ? "Light" : "Dark";
    button.setAttribute("aria-label", isDark() ? "Light theme" : "Dark theme");
  };
  button.addEventListener("click", () => {
    root.dataset.theme = isDark() ? "light" : "dark";
    try {
      localStorage.setItem("theme", root.dataset.theme);
    } catch {
      // A device that keeps nothing still shows the theme that was chosen.
    }
    words();
  });
  words();
}

async function start() {
  themeSwitch();
  here.store = await openStore();
  here.drafts = new Unsaved(here.store);
  here.drafts.onTrouble = here.trouble;
  here.undo = new Undo(at("undo"), at("title"), here.announce, here.trouble);
  for (const { id } of await here.store.cases()) {
    await here.drafts.load(id);
    const keys = (await here.store.entries(id)).map((entry) => entry.payload.key).filter(Boolean);
    await here.drafts.dropWritten(id, new Set(keys));
  }
  here.store.onChange(({ what }) => {
    if (what === "words") showRecovery(here, at("recovery")).catch(here.trouble);
    else if (what !== "drafts") totalsSoon();
  });
  here.sending = startSending(here.store, {});
  addEventListener("hashchange", show);
  const lifetime = startLifetime(here.store, { onNewVersion: () => (at("newer").hidden = false) });
  lifetime.onFlush(() => here.drafts.flush());
  at("take-newer").addEventListener("click", () => lifetime.takeNewVersion());
  await show();
  document.documentElement.dataset.ready = "yes";
}

start().catch(here.trouble);
