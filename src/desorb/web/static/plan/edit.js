// The page of the plan: one plan, one tool at a time, everything written through the API as new entries.

import { callApi, sentence } from "/static/office.js";
import { Cross } from "./edit_cross.js";
import { ConstructionTool, ZoneTool } from "./edit_fabric.js";
import { PictureTool } from "./edit_picture.js";
import { RoomTool } from "./edit_room.js";
import { SpotTool } from "./edit_spot.js";
import { drawPlan } from "./view.js";

class Editor {
  constructor(desk) {
    this.desk = desk;
    this.base = `/api/cases/${encodeURIComponent(desk.dataset.case)}`;
    this.cross = new Cross(desk.querySelector("#cross"), { changed: () => this.plan?.redraw() });
    this.tools = {};
    this.cross.box.addEventListener("click", (event) => {
      const act = event.target.closest("[data-cross]")?.dataset.cross;
      if (act === "back") this.tool.outline.back();
      else if (act) this.cross.point ? this.tool.useCross() : this.refuse(this.tool.form, "There is no cross-hair yet. Next: tap the plan, or type x and y of the cross-hair.");
    });
  }

  async begin() {
    this.pack = await callApi("GET", `${this.base}/plan`);
    this.plan = drawPlan(this.desk.querySelector("#plan-view"), this.pack, {
      tallest: window.innerWidth < 992 ? 0.36 : 0.7, listAt: this.desk.querySelector("#plan-list"),
      onSpot: (id) => this.openSpot(id),
      onTap: (point) => this.tapped(point),
      overlay: (view) => [...(this.tool?.drawn?.(view) ?? []), ...this.cross.drawn(view)],
    });
    const kinds = { room: RoomTool, zone: ZoneTool, construction: ConstructionTool, spot: SpotTool, picture: PictureTool };
    for (const part of this.desk.querySelectorAll("details[data-tool]")) {
      this.tools[part.dataset.tool] = new kinds[part.dataset.tool](part, this);
      part.addEventListener("toggle", () => this.chosen(part));
    }
    this.shown();
  }

  get tool() {
    return this.tools[this.desk.querySelector("details[data-tool][open]")?.dataset.tool];
  }

  chosen(part) {
    if (part.open) for (const other of this.desk.querySelectorAll("details[data-tool][open]")) if (other !== part) other.open = false;
    this.cross.box.hidden = !this.tool?.usesCross;
    this.desk.classList.toggle("plan-drawing", Boolean(this.tool?.usesCross));
    if (this.tool?.usesCross) {
      this.tool.part.querySelector("summary").after(this.cross.box);
      const [use, back] = this.cross.box.querySelectorAll("[data-cross]");
      use.textContent = this.tool.outline ? "Add a corner here" : "Put the spot here";
      back.hidden = !this.tool.outline;
    }
    this.plan.redraw();
  }

  tapped(point) {
    if (!this.tool?.usesCross) return false;
    this.cross.put(this.tool.snapped?.(point, this.plan.view) ?? point.map((part) => Math.round(part * 100) / 100));
    return true;
  }

  openSpot(id) {
    const { spot } = this.tools;
    spot.part.open = true;
    spot.choose(id);
  }

  openRoom(outline) {
    this.tools.room.part.open = true;
    this.tools.room.choose("");
    this.tools.room.outline.set(outline);
    this.tools.room.form.elements.id.focus();
  }

  shown() {
    for (const tool of Object.values(this.tools)) tool.refresh?.();
    this.plan.update(this.pack);
  }

  // Write one record. What was refused is said in the form it came from, and takes the focus.
  async write(form, address, body) {
    this.quiet(form);
    const buttons = [...form.querySelectorAll("button")].filter((button) => !button.disabled);
    for (const button of buttons) button.disabled = true;
    try {
      const done = await callApi("POST", `${this.base}${address}`, body);
      this.pack = await callApi("GET", `${this.base}/plan`);
      this.shown();
      this.say(form, done.said);
      return done;
    } catch (problem) {
      this.refuse(form, problem.problem ? sentence(problem.problem) : "The server did not answer. Nothing was written. Next: send it again when the server is there.");
      return null;
    } finally {
      for (const button of buttons) button.disabled = false;
      if (document.activeElement === document.body) form.querySelector("[data-part=problem]:not([hidden]), button[type=submit]")?.focus();
    }
  }

  quiet(form) {
    form.querySelector("[data-part=problem]").hidden = true;
    form.querySelector("[data-part=said]").textContent = "";
  }

  say(form, words) {
    form.querySelector("[data-part=said]").textContent = words;
  }

  refuse(form, words) {
    this.quiet(form);
    const line = form.querySelector("[data-part=problem]");
    line.textContent = words;
    line.hidden = false;
    line.focus();
  }
}

const desk = document.querySelector("#plan-desk");
if (desk) {
  new Editor(desk).begin().catch((problem) => {
    desk.querySelector("#plan-view").textContent = `The plan could not be read. ${problem.message}`;
  });
}
