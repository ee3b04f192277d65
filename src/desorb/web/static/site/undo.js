// After a save: ten seconds and more to undo it with one tap. Undo writes a strike; what was written stays visible.

import { fill, h } from "./dom.js";

const OFFERED = 12000; // ms; at least 10 s (FIELD 12)

export class Undo {
  constructor(slot, title, announce, trouble = () => {}) {
    Object.assign(this, { slot, title, announce, trouble, timer: 0 });
  }

  offer(words, undo) {
    clearTimeout(this.timer);
    const press = async () => {
      clearTimeout(this.timer); // it stays while the strike is written
      this.button.disabled = true;
      try {
        await undo();
      } catch (problem) {
        this.button.disabled = false;
        this.announce(`It was not undone: ${problem.message} What was written stands.`);
        this.trouble(problem);
        this.timer = setTimeout(() => this.expire(), OFFERED);
        return;
      }
      this.withdraw();
      this.announce("Undone: it is struck, and both stay in the record.");
    };
    this.button = h("button", { type: "button", "aria-label": `Undo: ${words}`, onclick: press }, "Undo");
    fill(this.slot, h("span.undo-words", {}, words), this.button);
    this.slot.hidden = false;
    this.title.classList.add("visually-hidden");
    this.announce(`${words} is on this device. Undo is at the top of the page.`);
    this.timer = setTimeout(() => this.expire(), OFFERED);
  }

  expire() {
    if (document.activeElement === this.button) this.timer = setTimeout(() => this.expire(), 1000);
    else this.withdraw();
  }

  withdraw() {
    clearTimeout(this.timer);
    const hadFocus = this.slot.contains(document.activeElement);
    this.slot.hidden = true;
    this.slot.replaceChildren();
    this.title.classList.remove("visually-hidden");
    if (hadFocus) this.title.focus();
  }
}
