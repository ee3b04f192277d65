// Our own keypad: three columns across the screen, single taps only. It types into a target:
// {get(), set(text), on: {next(), repeat(), over(), under(), none()}, nextWords()}. Digits are never held back; a second
// tap on "next" within 400 ms, with nothing in between, is taken for one (FIELD 12).

import { h } from "./dom.js";
import { separator } from "./numbers.js";

const DOUBLE_TAP = 400; // ms

export class Keypad {
  constructor(target, { actions = [] } = {}) {
    this.target = target;
    this.mark = separator();
    this.lastNext = -Infinity;
    const key = (words, name, press, kind = "key") => h(`button.${kind}`, {
      type: "button", "aria-label": name, onclick: () => this.press(press),
      onmousedown: (event) => event.preventDefault(), // the field keeps the focus, if it has it
    }, words);
    const digit = (text) => key(text, undefined, () => this.type(text));
    const words = { over: ["≥ top", "over range: at least the top of the scale"], under: ["≤ bottom", "under range: at most the bottom of the scale"],
      none: ["no reading", undefined], repeat: ["repeat", "repeat: another value of this spot"], first: ["first of two", "keep as the first of two readings"] };
    const own = (name) => key(words[name][0], words[name][1], () => this.target.on[name](), "key.word");
    const sign = key("+/−", "sign: plus or minus", () => this.sign());
    this.next = h("button.key.word.next", { type: "button", onclick: () => this.pressNext(), onmousedown: (event) => event.preventDefault() }, "next");
    const last = actions.length > 2 ? [...actions.slice(0, 2).map(own), sign, ...actions.slice(2).map(own), this.next] : [sign, ...actions.map(own), this.next];
    this.element = h(".keypad", { role: "group", "aria-label": "Keypad" },
      ["1", "2", "3", "4", "5", "6", "7", "8", "9"].map(digit),
      key(this.mark, this.mark === "," ? "decimal comma" : "decimal point", () => this.type(this.mark)), digit("0"),
      key("⌫", "delete the last figure", () => this.target.set(this.target.get().slice(0, -1))),
      last);
  }

  press(action) {
    this.lastNext = -Infinity;
    action();
    this.refresh();
  }

  pressNext() {
    const now = performance.now();
    const doubled = now - this.lastNext < DOUBLE_TAP;
    this.lastNext = now;
    if (doubled) return;
    this.target.on.next();
    this.refresh();
  }

  type(text) {
    const now = this.target.get();
    this.target.set(/^[<>]=/.test(now) ? text : now + text); // a figure typed over an end of the scale replaces it
  }

  sign() {
    const text = this.target.get();
    this.target.set(/^[-\u2212]/.test(text) ? text.slice(1) : `-${text}`);
  }

  // Something was typed, by this keypad or another: the next tap on "next" is meant.
  typed() {
    this.lastNext = -Infinity;
    this.refresh();
  }

  refresh() {
    const words = this.target.nextWords?.() ?? "next";
    if (this.next.textContent !== words) this.next.textContent = words;
  }
}
