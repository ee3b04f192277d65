// The picture under the plan: a file is taken, then its scale is set by two points and a true length.

import { callApi, sentence } from "/static/office.js";
import { fillChoices } from "./edit_choices.js";
import { Cross } from "./edit_cross.js";
import { areaOf } from "./edit_outline.js";
import { cornersOf, numberOf } from "./geometry.js";
import { svg } from "./marks.js";
import { drawPlan } from "./view.js";

export class PictureTool {
  constructor(part, editor) {
    Object.assign(this, { part, editor, ends: {} });
    this.source = part.querySelector("[data-form=source]");
    this.form = part.querySelector("[data-form=picture]");
    this.fields = this.form.elements;
    this.fields.by.value = editor.pack.by;
    this.cross = new Cross(part.querySelector("#pixel"), { text: (value) => value.toFixed(0), changed: () => this.preview?.redraw() });
    this.source.addEventListener("submit", (event) => {
      event.preventDefault();
      this.take();
    });
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.write();
    });
    const acts = { "no-picture": () => this.editor.write(this.source, "/plan/picture", { sha256: "" }), "end-a": () => this.setEnd("A"), "end-b": () => this.setEnd("B"), "use-room": () => this.useRoom() };
    part.addEventListener("click", (event) => acts[event.target.closest("[data-act]")?.dataset.act]?.());
  }

  partNamed(name) {
    return this.form.querySelector(`[data-part=${name}]`);
  }

  async take() {
    const [file] = this.source.elements.file.files;
    if (!file) {
      this.editor.refuse(this.source, "No file was chosen. Next: choose one.");
      return;
    }
    this.editor.quiet(this.source);
    this.editor.say(this.source, "The file is being read.");
    const page = this.source.elements.page.value.trim() || "1";
    const asked = new URLSearchParams({ name: file.name.slice(0, 255), page, unit: this.source.elements.unit.value });
    try {
      this.taken = await callApi("POST", `${this.editor.base}/plan/source?${asked}`, file, "application/octet-stream");
      this.show();
    } catch (problem) {
      this.editor.refuse(this.source, problem.problem ? sentence(problem.problem) : "The server did not answer. Next: take the file again.");
    }
  }

  show() {
    const { taken } = this;
    const known = taken.metres_per_pixel !== "";
    const said = [`${taken.width} by ${taken.height} px`, taken.pages > 1 ? `page ${taken.page} of ${taken.pages}` : "", taken.page_size ? `${taken.page_size} mm on paper` : ""];
    const scale = known ? ` The drawing holds its own lengths, in ${taken.unit}: no scale line is needed.` : taken.needs_unit ? " The drawing states no unit: choose it above and take the file again, or draw a scale line." : "";
    this.editor.say(this.source, `The file was read: ${said.filter(Boolean).join(", ")}.${scale} ${taken.said}`.trim());
    this.form.hidden = false;
    this.partNamed("line").hidden = known;
    this.partNamed("rooms").hidden = !taken.rooms.length;
    fillChoices(this.fields.room, taken.rooms.map((outline, index) => [String(index), `${areaOf(cornersOf(outline)).toFixed(2)} m\u00b2, ${outline.length} corners`]), 0);
    this.ends = {};
    this.endWords();
    this.cross.box.hidden = known;
    if (known) return;
    const picture = { sha256: taken.sha256, width: taken.width, height: taken.height, metres_per_pixel: "1", x: "0", y: "0" };
    this.preview = drawPlan(this.partNamed("picture-view"), { case: this.editor.pack.case, picture }, {
      list: false, bare: true, onTap: (point) => this.tapped(point), overlay: (view) => this.drawn(view),
    });
    this.preview.frame.setAttribute("aria-label", "The picture, in px");
  }

  tapped(point) {
    this.cross.put([Math.min(Math.max(point[0], 0), this.taken.width), Math.min(Math.max(point[1], 0), this.taken.height)]);
    return true;
  }

  setEnd(name) {
    if (!this.cross.point) {
      this.editor.refuse(this.form, "There is no cross-hair on the picture yet. Next: tap the picture, or type x and y.");
      return;
    }
    this.ends[name] = this.cross.point;
    this.endWords();
    this.preview.redraw();
  }

  endWords() {
    const { A, B } = this.ends;
    const said = Object.entries(this.ends).map(([name, [x, y]]) => `end ${name} at ${x}, ${y} px`);
    if (A && B) said.push(`${Math.hypot(A[0] - B[0], A[1] - B[1]).toFixed(0)} px apart`);
    this.partNamed("ends").textContent = said.length ? `${said.join("; ")}.` : "No end is set yet.";
  }

  drawn(view) {
    const marks = Object.entries(this.ends).flatMap(([name, point]) => {
      const [x, y] = view.at(point);
      return [svg("circle", { class: "plan-draft-corner", cx: x, cy: y, r: 5 }), svg("text", { class: "plan-wall-number", x: x + 10, y: y - 8 }, name)];
    });
    const { A, B } = this.ends;
    if (A && B) marks.unshift(svg("path", { class: "plan-draft", d: `M${view.at(A).join(" ")}L${view.at(B).join(" ")}` }));
    return [...marks, ...this.cross.drawn(view)];
  }

  async write() {
    const { taken, ends: { A, B } } = this;
    const body = { sha256: taken.sha256, width: taken.width, height: taken.height, words: this.fields.words.value.trim(), by: this.fields.by.value.trim(), source_sha256: taken.source_sha256 === taken.sha256 ? "" : taken.source_sha256, source_page: taken.kind === "pdf" ? taken.page : 0 };
    if (taken.metres_per_pixel) Object.assign(body, { metres_per_pixel: taken.metres_per_pixel, x: taken.x, y: taken.y });
    else if (!A || !B) {
      this.editor.refuse(this.form, "The scale line has two ends. Next: set end A and end B on the picture.");
      return;
    } else {
      const up = ([x, y]) => [x, taken.height - y];
      Object.assign(body, { line: [...up(A), ...up(B)], length: this.fields["true-length"].value.trim() }, this.placeOf(A, B));
    }
    const done = await this.editor.write(this.form, "/plan/picture", body);
    if (done) this.editor.plan.view.whole();
    if (done) this.editor.plan.redraw();
  }

  // Where the lower left corner stands when end A has a place on the plan.
  placeOf(A, B) {
    const [x, y, length] = ["a-x", "a-y", "true-length"].map((name) => numberOf(this.fields[name].value.trim()));
    if (x === null || y === null || !length) return {};
    const scale = length / Math.hypot(A[0] - B[0], A[1] - B[1]);
    return { x: (x - A[0] * scale).toFixed(3), y: (y - A[1] * scale).toFixed(3) };
  }

  useRoom() {
    this.editor.openRoom(this.taken.rooms[Number(this.fields.room.value)]);
  }
}
