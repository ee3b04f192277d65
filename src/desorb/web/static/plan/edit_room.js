// A room: corners, doors and windows, height, name.

import { fillChoices, named } from "./edit_choices.js";
import { Outline } from "./edit_outline.js";
import { cornersOf, wallsOf } from "./geometry.js";
import { make, svg } from "./marks.js";

export class RoomTool {
  usesCross = true;

  constructor(part, editor) {
    Object.assign(this, { part, editor, form: part.querySelector("form"), openings: [] });
    this.fields = this.form.elements;
    this.list = this.form.querySelector("[data-part=opening-list]");
    this.outline = new Outline(this.form, editor);
    this.fields.by.value = editor.pack.by;
    this.fields.known.addEventListener("change", () => this.choose(this.fields.known.value));
    this.form.querySelector("[data-act=add-opening]").addEventListener("click", () => this.addOpening());
    this.form.querySelector("[data-act=off]").addEventListener("click", () => this.write([]));
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.write(this.outline.lines);
    });
    this.showOpenings();
  }

  refresh() {
    fillChoices(this.fields.known, named(this.editor.pack.rooms));
  }

  choose(id) {
    const room = this.editor.pack.rooms.find((each) => each.id === id);
    this.fields.known.value = room ? id : "";
    for (const name of ["id", "words", "height"]) this.fields[name].value = room?.[name] ?? "";
    this.openings = (room?.openings ?? []).map((each) => ({ ...each }));
    this.editor.quiet(this.form);
    this.outline.set(room?.outline ?? []);
    this.showOpenings();
  }

  addOpening() {
    const wall = Number(this.fields["opening-wall"].value);
    const [start, width] = ["opening-start", "opening-width"].map((name) => this.fields[name].value.trim());
    if (!Number.isInteger(wall) || wall < 1 || !start || !width) {
      this.editor.refuse(this.form, "An opening needs a wall number, where it begins and its width. Next: fill these three.");
      return;
    }
    this.openings.push({ kind: this.fields["opening-kind"].value, wall: wall - 1, start, width, words: "" });
    for (const name of ["opening-start", "opening-width"]) this.fields[name].value = "";
    this.showOpenings();
    this.editor.plan.redraw();
  }

  showOpenings() {
    this.list.replaceChildren(...this.openings.map((each, index) => {
      const words = `${each.kind}, wall ${each.wall + 1}, from ${each.start} m, ${each.width} m wide`;
      const take = () => {
        this.openings.splice(index, 1);
        this.showOpenings();
        this.editor.plan.redraw();
        this.form.querySelector("[data-act=add-opening]").focus();
      };
      return make("li", {}, words, make("button", { type: "button", class: "quiet", "aria-label": `Take out: ${words}`, onclick: take }, "Take out"));
    }));
    if (!this.openings.length) this.list.replaceChildren(make("li", {}, "none yet"));
  }

  async write(outline) {
    const body = { id: this.fields.id.value.trim(), words: this.fields.words.value.trim(), height: this.fields.height.value.trim(), by: this.fields.by.value.trim(), outline, openings: outline.length ? this.openings : [] };
    if (!outline.length && !this.editor.pack.rooms.some((each) => each.id === body.id)) {
      this.editor.refuse(this.form, this.outline.lines.length ? "This room is not on the plan yet, so it cannot be taken off. Next: choose a room that was drawn." : "An outline has at least 3 corners, this one has 0. Next: add the corners.");
      return;
    }
    if (!(await this.editor.write(this.form, "/rooms", body))) return;
    if (outline.length) this.fields.known.value = body.id;
    else this.outline.set([]);
  }

  useCross() {
    this.outline.add([this.editor.cross.point]);
  }

  snapped(point, view) {
    return this.outline.snapped(point, view);
  }

  drawn(view) {
    const { gaps } = wallsOf(cornersOf(this.outline.lines), this.openings);
    const doors = gaps.map((gap) => svg("path", { class: "plan-draft-gap", d: `M${gap.ends.map((end) => view.at(end).join(" ")).join("L")}` }));
    return [...this.outline.drawn(view), ...doors];
  }
}
