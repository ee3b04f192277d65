// The cross-hair: placed by a tap, moved by buttons and arrow keys, or typed. Never dragged.

import { numberOf } from "./geometry.js";
import { svg } from "./marks.js";

export function metresText(value) {
  const fine = value.toFixed(3);
  return fine.endsWith("0") ? value.toFixed(2) : fine;
}

const KEYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };

export class Cross {
  // `text`: how a coordinate is written; `changed`: called after every move.
  constructor(box, { text = metresText, changed = () => {} } = {}) {
    Object.assign(this, { box, text, changed });
    this.part = (name) => box.querySelector(`[data-part=${name}]`);
    box.addEventListener("click", (event) => {
      const move = event.target.closest("[data-move]")?.dataset.move;
      if (move) this.nudge(...move.split(" ").map(Number));
    });
    box.querySelector(".cross-pad").addEventListener("keydown", (event) => {
      const move = KEYS[event.key];
      if (!move) return;
      event.preventDefault();
      this.nudge(...move);
    });
    box.addEventListener("change", () => this.changed());
  }

  get point() {
    const point = [numberOf(this.part("x").value.trim()), numberOf(this.part("y").value.trim())];
    return point.includes(null) ? null : point;
  }

  put(point) {
    [this.part("x").value, this.part("y").value] = point.map(this.text);
    this.changed();
  }

  nudge(across, up) {
    const step = Number(this.part("step").value);
    const [x, y] = this.point ?? [0, 0];
    this.put([x + across * step, y + up * step]);
  }

  drawn(view) {
    if (!this.point || this.box.hidden) return [];
    const [x, y] = view.at(this.point);
    return [svg("path", { class: "plan-cross", d: `M${x - 16} ${y}H${x - 4}M${x + 4} ${y}H${x + 16}M${x} ${y - 16}V${y - 4}M${x} ${y + 4}V${y + 16}` })];
  }
}
