// What was typed and not yet saved. It goes to the device at every keystroke (drafts.js keeps it, one draft for each
// case and window). What an earlier life of the page left is offered by name (case, place, time) and never put into a
// form by itself; what this life typed comes back into its form without asking.
//
// Kept for each case: {forms: {form key: {life, place, route, at, values, chooser}}, aside: [...], sweep: {...}}

export class Unsaved {
  constructor(store, now = () => new Date().toISOString()) {
    this.store = store;
    this.now = now;
    this.life = store.tab;
    this.kept = new Map(); // case -> what is kept
    this.running = new Map(); // case -> the write under way
    this.onTrouble = () => {};
  }

  async load(caseId) {
    if (this.kept.has(caseId)) return;
    const [first = {}, ...others] = await this.store.drafts(caseId); // several windows may have died
    const kept = { forms: {}, aside: [], sweep: null, ...first };
    for (const other of others) {
      for (const [key, form] of Object.entries(other.forms ?? {})) {
        if (key in kept.forms) kept.aside.push({ key, ...form });
        else kept.forms[key] = form;
      }
      kept.aside.push(...(other.aside ?? []));
    }
    if (!this.kept.has(caseId)) this.kept.set(caseId, kept);
  }

  // Drafts of readings that were written before the page was killed are no drafts any more.
  dropWritten(caseId, keys) {
    const kept = this.kept.get(caseId);
    const names = Object.entries(kept.forms).filter(([, form]) => keys.has(form.values?.key)).map(([name]) => name);
    const aside = kept.aside.filter((form) => !keys.has(form.values?.key));
    if (!names.length && aside.length === kept.aside.length) return Promise.resolve();
    for (const name of names) delete kept.forms[name];
    kept.aside = aside;
    return this.write(caseId);
  }

  // The values of a form in this life, or null.
  values(caseId, key) {
    const form = this.kept.get(caseId)?.forms[key];
    return form?.life === this.life ? form.values : null;
  }

  set(caseId, key, place, route, values, extra = {}) {
    const kept = this.kept.get(caseId);
    const there = kept.forms[key];
    if (there && there.life !== this.life && !there.chooser) kept.aside.push({ key, ...there }); // never written over
    kept.forms[key] = { life: this.life, place, route, at: this.now(), values, ...extra };
    return this.write(caseId);
  }

  clear(caseId, key) {
    if (this.values(caseId, key) === null) return Promise.resolve();
    delete this.kept.get(caseId).forms[key];
    return this.write(caseId);
  }

  sweep(caseId) {
    return this.kept.get(caseId)?.sweep ?? null;
  }

  setSweep(caseId, sweep) {
    this.kept.get(caseId).sweep = sweep;
    return this.write(caseId);
  }

  // What earlier lives of the page left in any case.
  left() {
    return [...this.kept].flatMap(([caseId, { forms }]) => Object.entries(forms)
      .filter(([, form]) => form.life !== this.life).map(([key, form]) => ({ caseId, key, ...form })));
  }

  aside(caseId) {
    return (this.kept.get(caseId)?.aside ?? []).map((form) => ({ caseId, ...form }));
  }

  takeUp({ caseId, key, place, route, values, at }) {
    const kept = this.kept.get(caseId);
    const mine = kept.forms[key]?.life === this.life ? kept.forms[key] : null;
    kept.aside = kept.aside.filter((each) => each.key !== key || each.at !== at);
    if (mine && mine.at !== at) kept.aside.push({ key, ...mine });
    kept.forms[key] = { life: this.life, place, route, at, values };
    return this.write(caseId);
  }

  setAside({ caseId, key, place, route, values, at, chooser }) {
    const kept = this.kept.get(caseId);
    delete kept.forms[key];
    if (!chooser) kept.aside.push({ key, place, route, values, at });
    return this.write(caseId);
  }

  // One write at a time for each case; what changes meanwhile is written right after it.
  write(caseId) {
    const under = this.running.get(caseId);
    if (under) {
      under.again ??= under.done.then(() => this.write(caseId));
      return under.again;
    }
    const done = this.put(caseId).catch((trouble) => this.onTrouble(trouble)).finally(() => this.running.delete(caseId));
    this.running.set(caseId, { done });
    return done;
  }

  async put(caseId) {
    const { forms, aside, sweep } = this.kept.get(caseId);
    if (Object.keys(forms).length || aside.length || sweep) await this.store.saveDraft(caseId, structuredClone({ forms, aside, sweep }));
    else await this.store.dropDraft(caseId);
  }

  // Waits until everything typed so far lies on the device.
  async flush() {
    await Promise.all([...this.kept.keys()].map((caseId) => this.write(caseId)));
  }
}
