// A spot: where it is, what it belongs to. Moved by more than 50 mm it becomes a new spot; the old one stays where it was.

import { fillChoices, named } from "./edit_choices.js";
import { metresText } from "./edit_cross.js";
import { numberOf } from "./geometry.js";
import { describeSpots } from "./marks.js";

const SAME_PLACE = 0.05; // m, as in core/compare.py
const TEXTS = ["id", "zone", "element", "role", "words", "x", "y", "height", "why_unaffected", "offset_a", "offset_a_from", "offset_b", "offset_b_from"];

export class SpotTool {
  usesCross = true;

  constructor(part, editor) {
    Object.assign(this, { part, editor, form: part.querySelector("form") });
    this.fields = this.form.elements;
    this.moved = this.form.querySelector("[data-part=moved]");
    this.fields.known.addEventListener("change", () => this.choose(this.fields.known.value));
    const acts = { "as-new": () => this.asNew(), leave: () => this.choose(this.fields.known.value) };
    this.form.addEventListener("click", (event) => acts[event.target.closest("[data-act]")?.dataset.act]?.());
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.write();
    });
  }

  refresh() {
    fillChoices(this.fields.known, named(this.editor.pack.spots));
    fillChoices(this.fields.zone, named(this.editor.pack.zones), 0);
  }

  get known() {
    return this.editor.pack.spots.find((each) => each.id === this.fields.known.value);
  }

  choose(id) {
    const spot = this.editor.pack.spots.find((each) => each.id === id);
    this.fields.known.value = spot ? id : "";
    for (const name of TEXTS) if (spot || !["zone", "role"].includes(name)) this.fields[name].value = spot?.[name] ?? "";
    this.moved.hidden = true;
    this.editor.quiet(this.form);
    this.form.querySelector("[data-part=last]").textContent = spot ? this.lastWords(id) : "";
    const place = [numberOf(spot?.x), numberOf(spot?.y)];
    if (!place.includes(null)) this.editor.cross.put(place);
    this.editor.plan.show(spot ? id : "");
  }

  lastWords(id) {
    const each = describeSpots(this.editor.pack).find((one) => one.id === id);
    if (each.value === "no value") return "Nothing was read here yet.";
    return `Last read ${each.time}: ${each.value} on ${each.scale}, ${each.covering ? `covering: ${each.covering}` : "covering not stated"}. ${each.words}.`;
  }

  useCross() {
    [this.fields.x.value, this.fields.y.value] = this.editor.cross.point.map(metresText);
    this.editor.say(this.form, `The place is x ${this.fields.x.value} m, y ${this.fields.y.value} m. It is not written yet.`);
  }

  values() {
    return Object.fromEntries(TEXTS.map((name) => [name, this.fields[name].value.trim()]));
  }

  differences(values) {
    const { known } = this;
    if (!known || known.id !== values.id) return [];
    const parts = ["zone", "element", "role"].filter((name) => known[name] !== values[name]);
    const apart = ["x", "y", "height"].filter((name) => {
      const [one, other] = [numberOf(known[name]), numberOf(values[name])];
      return one !== null && other !== null && Math.abs(one - other) > SAME_PLACE + 1e-9;
    });
    return [...parts, ...apart];
  }

  async write() {
    const values = this.values();
    const differing = this.differences(values);
    if (differing.length) this.ask(values, differing);
    else await this.send(values);
  }

  ask(values, differing) {
    const { known } = this;
    const words = differing.map((name) => `${name} ${known[name]} before, ${values[name]} now`).join("; ");
    this.form.querySelector("[data-part=moved-words]").textContent =
      `With another ${differing.join(", ")} this is another spot: ${words}. More than 50 mm, or another part, would move its readings to a place where they were not taken. ${known.id} stays as it is.`;
    this.fields["new-id"].value = this.freeId(known.id);
    this.moved.hidden = false;
    this.moved.focus();
  }

  freeId(id) {
    const taken = new Set(this.editor.pack.spots.map((each) => each.id));
    const [, stem, number] = /^(.*?)(?:-(\d{1,6}))?$/.exec(id);
    for (let next = Number(number ?? 1) + 1; ; next += 1) if (!taken.has(`${stem}-${next}`)) return `${stem}-${next}`;
  }

  async asNew() {
    await this.send({ ...this.values(), id: this.fields["new-id"].value.trim() });
  }

  async send(values) {
    const done = await this.editor.write(this.form, "/spots", values);
    if (!done) return;
    this.choose(done.id);
    this.editor.say(this.form, done.said);
  }
}
