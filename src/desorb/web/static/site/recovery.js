// What an earlier life of the page left unsaved: named by case, place and time, taken up again or set aside. Before it,
// what the storage of this device has to say, until it was read.

import { button, fill, h } from "./dom.js";
import { clockTime } from "./words.js";

const typed = (values) => Object.entries(values).filter(([, value]) => typeof value === "string" && value).map(([, value]) => value)
  .concat(...Object.values(values).filter(Array.isArray)).join(", ").slice(0, 120);

export async function showRecovery(here, region) {
  const names = new Map((await here.store.cases()).map(({ id, name }) => [id, name]));
  const left = here.drafts.left();
  const sentences = here.store.words.map((sentence) => h(".recovery", { role: "alert" }, h("p", {}, sentence), h(".row-of-keys", {},
    button("I have read this", () => {
      here.store.words.splice(here.store.words.indexOf(sentence), 1);
      showRecovery(here, region);
    }))));
  fill(region, sentences, left.map((form) => h(".recovery", {},
    form.chooser
      ? h("p", {}, `${names.get(form.caseId)}, ${form.place}, ${clockTime(form.at)}: the photo was not received, take it again.`)
      : h("p", {}, `Typed and not saved. ${names.get(form.caseId)}, ${form.place}, ${clockTime(form.at)}: “${typed(form.values)}”`),
    h(".row-of-keys", {},
      button(form.chooser ? "Go to the photo" : "Take it up again", async () => {
        await here.drafts.takeUp(form);
        here.go(form.route);
      }, "next"),
      button("Set aside", async () => {
        await here.drafts.setAside(form);
        here.announce("Set aside. It stands under “What was written”.");
        showRecovery(here, region);
      })))));
  region.hidden = left.length + sentences.length === 0;
}
