// Zones and constructions: what a part is made of, and how that is known.

import { fillChoices, named } from "./edit_choices.js";
import { Outline } from "./edit_outline.js";
import { make } from "./marks.js";

export class ZoneTool {
  usesCross = true;

  constructor(part, editor) {
    Object.assign(this, { part, editor, form: part.querySelector("form") });
    this.fields = this.form.elements;
    this.outline = new Outline(this.form, editor);
    this.fields.known.addEventListener("change", () => this.choose(this.fields.known.value));
    this.fields.copy.addEventListener("change", () => {
      const room = editor.pack.rooms.find((each) => each.id === this.fields.copy.value);
      if (room) this.outline.set(room.outline);
    });
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.write();
    });
  }

  refresh() {
    fillChoices(this.fields.known, named(this.editor.pack.zones));
    fillChoices(this.fields.construction, named(this.editor.pack.constructions), 0);
    fillChoices(this.fields.copy, named(this.editor.pack.rooms));
  }

  choose(id) {
    const zone = this.editor.pack.zones.find((each) => each.id === id);
    for (const name of ["id", "words", "exposure", "affected"]) this.fields[name].value = zone?.[name] ?? "";
    if (zone) this.fields.construction.value = zone.construction;
    this.fields.copy.value = "";
    this.editor.quiet(this.form);
    this.outline.set(zone?.outline ?? []);
  }

  async write() {
    const body = { outline: this.outline.lines };
    for (const name of ["id", "words", "construction", "exposure", "affected"]) body[name] = this.fields[name].value.trim();
    if (!body.construction) this.editor.refuse(this.form, "No construction is described yet. Next: describe the construction first, in the part below.");
    else if (await this.editor.write(this.form, "/zones", body)) this.fields.known.value = body.id;
  }

  useCross() {
    this.outline.add([this.editor.cross.point]);
  }

  snapped(point, view) {
    return this.outline.snapped(point, view);
  }

  drawn(view) {
    return this.outline.drawn(view);
  }
}

export class ConstructionTool {
  constructor(part, editor) {
    Object.assign(this, { part, editor, form: part.querySelector("form"), layers: [] });
    this.fields = this.form.elements;
    this.list = this.form.querySelector("[data-part=layer-list]");
    this.fields.known.addEventListener("change", () => this.choose(this.fields.known.value));
    this.form.querySelector("[data-act=add-layer]").addEventListener("click", () => this.addLayer());
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.write();
    });
    this.showLayers();
  }

  refresh() {
    fillChoices(this.fields.known, named(this.editor.pack.constructions));
  }

  choose(id) {
    const construction = this.editor.pack.constructions.find((each) => each.id === id);
    for (const name of ["id", "words", "material", "built"]) this.fields[name].value = construction?.[name] ?? "";
    this.layers = (construction?.layers ?? []).map((each) => ({ ...each }));
    for (const box of this.form.querySelectorAll("[name=risk]")) box.checked = construction?.risks.includes(box.value) ?? false;
    this.editor.quiet(this.form);
    this.showLayers();
  }

  addLayer() {
    const words = this.fields["layer-words"].value.trim();
    if (!words) {
      this.editor.refuse(this.form, "A layer says what it is. Next: name the layer.");
      return;
    }
    this.layers.push({ words, thickness_mm: this.fields["layer-thickness"].value.trim(), evidence: this.fields["layer-evidence"].value });
    for (const name of ["layer-words", "layer-thickness"]) this.fields[name].value = "";
    this.showLayers();
    this.fields["layer-words"].focus();
  }

  showLayers() {
    this.list.replaceChildren(...this.layers.map((each, index) => {
      const words = `${each.words}, ${each.thickness_mm ? `${each.thickness_mm} mm` : "thickness not known"}, ${each.evidence}`;
      const take = () => {
        this.layers.splice(index, 1);
        this.showLayers();
        this.form.querySelector("[data-act=add-layer]").focus();
      };
      return make("li", {}, words, make("button", { type: "button", class: "quiet", "aria-label": `Take out: ${words}`, onclick: take }, "Take out"));
    }));
    if (!this.layers.length) this.list.replaceChildren(make("li", {}, "none yet"));
  }

  async write() {
    const body = { layers: this.layers, risks: [...this.form.querySelectorAll("[name=risk]:checked")].map((box) => box.value) };
    for (const name of ["id", "words", "material", "built"]) body[name] = this.fields[name].value.trim();
    if (await this.editor.write(this.form, "/constructions", body)) this.fields.known.value = body.id;
  }
}
