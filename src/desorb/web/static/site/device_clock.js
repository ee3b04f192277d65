// Two clocks of this device that go into every envelope: the claimed time, and a counter that no one can set.
//
// The counter ("monotonic") is milliseconds since the present counting began, minus the number of that counting x 10^10.
// A counting ends with its page, and also when the page was hidden or frozen (the counter of a browser stands still
// while a device sleeps), and when another window has written in the same chain meanwhile. The next counting has the
// next number, kept in the database, so its counter lies below every one before: between countings the counter only
// falls. notebook/clocks.py looks for a clock that was set only where the counter rose, so it never takes a pause for
// one. Within a counting it still finds a clock that was moved. 10^10 ms are 115 days; 900,000 countings fit in 2^53.

export const COUNTING = 10 ** 10;

export class Counter {
  #began = 0;
  #isPaused = true; // a counting must begin before the next entry
  number = 0;

  constructor(tick = () => performance.now()) {
    this.tick = tick;
  }

  mustBegin(numberOfHead) {
    return this.#isPaused || numberOfHead > this.number;
  }

  begin(number) {
    this.number = number;
    this.#isPaused = false;
    this.#began = this.tick();
  }

  pause() {
    this.#isPaused = true;
  }

  read() {
    return Math.floor(this.tick() - this.#began) - this.number * COUNTING;
  }
}

// ISO 8601 with the offset of this device, as in 2026-03-02T09:15:00+01:00.
export function claimedAt(now) {
  const moment = new Date(now);
  const offset = -moment.getTimezoneOffset();
  const local = new Date(moment.getTime() + offset * 60000).toISOString().slice(0, 19);
  const two = (number) => String(number).padStart(2, "0");
  const size = Math.abs(offset);
  return `${local}${offset < 0 ? "-" : "+"}${two(Math.floor(size / 60))}:${two(size % 60)}`;
}
