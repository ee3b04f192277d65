// A refusal in three parts: what cannot be done, why, and what to do next.

export class Refusal extends Error {
  constructor(what, why = "", next = "") {
    super([what, why && `: ${why}`, ".", next && ` Next: ${next}.`].join(""));
    this.name = "Refusal";
    this.what = what;
    this.why = why;
    this.next = next;
  }
}

// What a browser says when its storage is full, and what it means for the person.
export function isFull(problem) {
  return problem?.name === "QuotaExceededError" || problem?.full === true;
}

export function noRoom(what) {
  const next = "send what waits, save it to a file, or free room on this phone";
  return Object.assign(new Refusal(what, "this browser gives this page no more room", next), { full: true });
}
