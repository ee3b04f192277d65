// The cases on this device, getting one from the office, and the truth about what is kept here.

import { button, fill, h } from "../dom.js";
import { age, clockTime, count } from "../words.js";

export async function casesScreen(here) {
  const cases = await here.store.cases();
  const list = h("ul.cases", {}, cases.map((each) => h("li", {},
    h("a.button.task", { href: `#/c/${each.id}` }, h("strong", {}, each.name), h("span", {}, each.site)),
    h("p.hint", {}, `From the office ${clockTime(each.fetched_at)} (${age(each.fetched_at)} old). ${waiting(each)}`),
    h(".row-of-keys", {},
      button("Get it again", () => get(here, each.id, each.name), "quiet"),
      button("Take it off this device", () => forget(here, each), "quiet")))));
  const office = h("section", {}, h("h2", {}, "Get a case from the office"), h("p.hint", {}, "This needs a network."), h("div", { id: "offered" }));
  const offered = office.lastChild;
  const body = h(".stack", {},
    h("h2", {}, "On this device"),
    cases.length ? list : h("p", {}, "No case is on this device. Get one from the office while there is a network."),
    office, await truth(here),
    h(".next-place", {}, button("Show the cases of the office", () => offer(here, offered), "next")));
  return { title: "On site", body };
}

function waiting({ unsent, photosUnsent }) {
  if (!unsent && !photosUnsent) return "Nothing of it waits here.";
  return `Not sent: ${unsent === 1 ? "1 entry" : `${unsent} entries`}, ${count(photosUnsent, "photo")}.`;
}

const noOffice = "The office was not reached. What is on this device can be used all the same. Next: go where there is a network, then ask again.";

async function offer(here, place) {
  try {
    const answer = await fetch("/api/cases", { headers: { accept: "application/json" } });
    if (!answer.ok || !(answer.headers.get("content-type") ?? "").includes("json")) throw new Error(noOffice);
    const cases = await answer.json();
    fill(place, cases.length ? h("ul.cases", {}, cases.map(({ id, name }) => h("li", {},
      button(`Get ${name}`, () => get(here, id, name), "task")))) : h("p", {}, "The office has no case yet. Open one there first."));
  } catch {
    fill(place, h("p", { role: "alert" }, noOffice));
  }
}

async function get(here, id, name) {
  here.announce(`Getting ${name}.`);
  const { ok, words } = await here.sending.refreshPack(id);
  if (!ok) return here.trouble(new Error(words || noOffice));
  here.announce(`${name} is on this device.`);
  return here.again();
}

async function forget(here, { id, name }) {
  try {
    await here.store.forgetCase(id);
    here.announce(`${name} is off this device; the office has everything that was written here.`);
    await here.again();
  } catch (problem) {
    here.trouble(problem);
  }
}

async function truth(here) {
  const { words, persisted } = await here.store.storageTruth();
  const ages = await here.store.ageWords();
  const said = h("div", {}, words.map((sentence) => h("p", {}, sentence)));
  const save = async () => {
    const file = await here.store.fileOfUnsent();
    const link = h("a", { href: URL.createObjectURL(file), download: "desorb-unsent.json" });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
    here.announce("The file of unsent work was handed to the browser to save.");
  };
  const keep = async () => fill(said, (await here.store.askToKeep()).words.map((sentence) => h("p", {}, sentence)));
  return h("section", {}, h("h2", {}, "How safe it is here"),
    ages.level > 0 && h(`p.age${ages.level > 1 ? ".age-loud" : ""}`, { role: ages.level > 1 ? "alert" : "note" }, ages.words),
    said,
    h(".row-of-keys", {},
      button("Send now", () => here.sending.sendNow(), "quiet"),
      button("Save what was not sent to a file", save, "quiet"),
      !persisted && button("Ask the browser to keep it", keep, "quiet")));
}
