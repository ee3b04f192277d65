"""A bare page on the server's address with the modules of the device loaded, and an office that can be told to fail.

Contents: open_device (a page with `openStore`, `startSending` ... on window); new_page_of; PACK (an invented pack);
HARNESS (fake time, timers and office, in JavaScript); OwnBrowser (a profile on the disk, whose processes can be killed).
The modules are the ones the server serves; only the network and the time are put in their place, by their parameters.
"""

from __future__ import annotations

import os
import signal
import subprocess
import time
from pathlib import Path
from typing import Any

from conftest import CHROMIUM, FLAGS

CASE = "ab" * 16
OPENING = "cd" * 32
PACK: dict[str, Any] = {
    "schema": "desorb-site/1", "made_at": "2026-03-02T09:00:00+00:00", "software": "0", "by": "A. Surveyor",
    "case": {"id": CASE, "name": "invented", "site": "1 Invented Lane", "time_zone": "Europe/London", "invented": True,
             "opened_by": "A. Surveyor"},
    "opening_hash": OPENING, "highest_clock": 40, "devices": {}, "visits": [], "constructions": [], "zones": [], "rooms": [],
    "picture": None, "spots": [], "instruments": [], "coverings": [], "preparations": [], "gates": [], "under_every_gate": "",
    "gate_names": [], "air_places": [], "units": [], "findings": [], "photos_awaited": [],
    "limits": {"largest_photo": 32 << 20}, "plausible_step": "2",
}  # fmt: skip

HARNESS = """
async () => {
  const names = ["record", "database", "device_clock", "store", "sync", "sync_answers", "page_lifetime", "keeping"];
  for (const name of names) Object.assign(window, await import(`/static/site/${name}.js`));
  window.time = Date.parse("2026-03-02T09:00:00Z");
  window.now = () => window.time;
  window.timers = new Set();
  window.setTimer = (callback, wait) => {
    const timer = { at: window.time + wait, callback, stop: () => window.timers.delete(timer) };
    window.timers.add(timer);
    return timer;
  };
  // Let time pass: due timers run in order; between them everything that was begun is let finish.
  window.senders = [];
  const hop = () => new Promise((go) => { const { port1, port2 } = new MessageChannel(); port1.onmessage = go;
    port2.postMessage(0); });
  window.settle = async () => {
    const rounds = (async () => { for (let turn = 0; turn < 4; turn += 1) { await hop();
      for (const sender of senders) await sender.settled(); } })();
    // An office that keeps silent is not waited for.
    if (window.office.answers === "silent") await Promise.race([rounds, new Promise((go) => setTimeout(go, 60))]);
    else await rounds;
  };
  window.pass = async (wait) => {
    const end = window.time + wait;
    await window.settle();
    for (;;) {
      const due = [...window.timers].filter((timer) => timer.at <= end).sort((one, other) => one.at - other.at)[0];
      if (!due) break;
      window.timers.delete(due);
      window.time = Math.max(window.time, due.at);
      due.callback();
      await window.settle();
    }
    window.time = end;
  };
  const json = (value, status = 200) => new Response(JSON.stringify(value), { status, headers: {
    "content-type": "application/json" } });
  window.json = json;
  // An office: what it has, what it was asked, and how it answers now.
  window.office = {
    entries: new Map(), photos: new Map(), asked: [], posted: [], answers: "well", bad: () => false, clock: 40, delay: 0,
    async fetch(address, options) {
      const office = window.office;
      office.asked.push(`${options.method} ${address}`);
      if (office.delay) await new Promise((go) => setTimeout(go, office.delay));
      const way = typeof office.answers === "function" ? office.answers(address, options) : office.answers;
      if (way instanceof Response || way instanceof Promise) return way;
      if (way === "down") throw new TypeError("no network");
      if (way === "portal") return new Response("<h1>Sign in to this network</h1>", { headers: {
        "content-type": "text/html" } });
      if (way === "silent") return new Promise((_, failed) => options.signal.addEventListener("abort",
        () => failed(options.signal.reason)));
      if (way === "500") return json({ error: "Unexpected", what: "something went wrong inside desorb", got: "",
        wanted: "", next: "" }, 500);
      if (options.method === "GET") return json({ ...window.PACK, highest_clock: office.clock, devices: office.devices() });
      if (options.method === "PUT") {
        const sha256 = address.split("/").at(-1);
        const size = options.body.byteLength;
        if (await window.sha256(options.body) !== sha256) return json({ error: "InputError",
          what: "the bytes do not match", got: "", wanted: "", next: "" }, 422);
        const known = office.photos.has(sha256);
        office.photos.set(sha256, size);
        return json({ sha256, size, state: known ? "known" : "received" });
      }
      const sent = JSON.parse(options.body).entries;
      if (sent.some(office.bad)) return json({ error: "Unexpected", what: "something went wrong inside desorb", got: "",
        wanted: "", next: "" }, 500);
      const results = [];
      for (const entry of sent) {
        const hash = await window.digestOfEnvelope(entry.envelope);
        const envelope = JSON.parse(entry.envelope);
        office.posted.push(hash);
        const known = office.entries.has(hash);
        office.entries.set(hash, envelope);
        office.clock = Math.max(office.clock, envelope.clock);
        const result = { hash, entry: `${envelope.device}/${envelope.n}`, state: known ? "known" : "received",
          reason: "", received_at: "2026-03-02T10:00:00.000000Z" };
        results.push({ ...result, ...(office.verdict?.(envelope) ?? {}) });
      }
      return json({ results, waiting: [], highest_clock: office.clock, server_time: "2026-03-02T10:00:00.000000Z" });
    },
    devices() {
      const heads = {};
      for (const [hash, { device, n }] of window.office.entries) if (n >= (heads[device]?.[0] ?? 0)) heads[device] = [n,
        hash];
      return heads;
    },
  };
  window.newStore = async (options = {}) => {
    const store = await openStore({ now: window.now, ...options });
    if (!(await store.pack(window.PACK.case.id))) await store.savePack(window.PACK);
    return store;
  };
  window.begin = (store, timer = window.setTimer) => {
    const sender = startSending(store, { fetch: (...request) => window.office.fetch(...request), now: window.now,
      setTimer: timer });
    window.senders.push(sender);
    return sender;
  };
  window.note = (words) => ["note", { key: `site:${randomHex(8)}`, words, taken_at: "2026-03-02T09:00:00+00:00" }];
  window.jpeg = (size, seed = 1) => {
    const bytes = new Uint8Array(size);
    let state = 0x9e3779b9 ^ seed; // noise that no storage makes smaller
    for (let at = 0; at < size; at += 1) {
      state ^= state << 13;
      state ^= state >>> 17;
      state ^= state << 5;
      bytes[at] = state;
    }
    bytes.set([0xff, 0xd8, 0xff, 0xe0, seed & 255, seed >> 8]);
    return new Blob([bytes], { type: "image/jpeg" });
  };
}
"""


def new_page_of(context: Any, address: str, pack: dict[str, Any] | None = None) -> Any:
    """A page of this profile with the modules loaded. What its scripts throw is raised at `page.evaluate`."""
    page = context.new_page()
    open_device(page, address, pack)
    return page


def open_device(page: Any, address: str, pack: dict[str, Any] | None = None) -> None:
    blank = f"{address}/blank"
    page.route(
        blank, lambda route: route.fulfill(body="<!doctype html><title>device</title>", content_type="text/html")
    )
    page.goto(blank)
    page.evaluate("(pack) => { window.PACK = pack; window.CASE = pack.case.id; }", pack or PACK)
    page.evaluate(HARNESS)


class OwnBrowser:
    """Chromium with a profile on the disk and a process group of its own, so that all of it can be killed at once."""

    def __init__(self, playwright: Any, profile: Path) -> None:
        port_file = profile / "DevToolsActivePort"
        port_file.unlink(missing_ok=True)
        words = [
            CHROMIUM,
            *FLAGS,
            "--headless",
            "--remote-debugging-port=0",
            f"--user-data-dir={profile}",
            "about:blank",
        ]
        self.process = subprocess.Popen(
            words,
            start_new_session=True,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for _ in range(3000):
            if port_file.exists() and "\n" in (text := port_file.read_text()):
                break
            time.sleep(0.01)
        self.browser = playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{text.splitlines()[0]}")
        self.context = self.browser.contexts[0]

    def kill(self) -> None:
        """SIGKILL to every process of it. Nothing is closed before."""
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
