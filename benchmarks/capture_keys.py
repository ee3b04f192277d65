"""How fast a key of the capture page answers, with the processor slowed down four times. Printed, never asserted.

Measured: from the tap to the next paint after the digit stands in its field; and from "next" until the entry is said to
lie on this device. Run: python -m benchmarks.capture_keys
"""

from __future__ import annotations

import statistics
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "tests" / "web"))

SLOWER = 4
TAP = """(name) => new Promise((done) => {
  const key = [...document.querySelectorAll(".key")].find((each) => each.textContent === name);
  const start = performance.now();
  key.click();
  requestAnimationFrame(() => { const channel = new MessageChannel(); channel.port1.onmessage = () =>
    done(performance.now() - start); channel.port2.postMessage(0); });
})"""
SAVE = """(spot) => new Promise((done) => {
  const start = performance.now();
  const watch = new MutationObserver(() => {
    if (!document.querySelector(`li[data-spot='${spot}'] [data-state=here]`)) return;
    watch.disconnect();
    done(performance.now() - start);
  });
  watch.observe(document.querySelector(".rows"), { childList: true, subtree: true });
  document.querySelector(".key.next").click();
})"""


def p95(values: list[float]) -> float:
    return statistics.quantiles(values, n=20)[-1]


def main() -> None:
    from capture_page import SPOTS, capture
    from conftest import CHROMIUM, FLAGS, Running
    from playwright.sync_api import sync_playwright

    if not CHROMIUM:
        print("No Chromium here: nothing measured.")
        return
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        running = Running(Path(folder) / "home")
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        with capture(browser, running.address) as site:
            site.begin_round()
            site.page.context.new_cdp_session(site.page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
            taps, saves = [], []
            for number in range(1, SPOTS):
                site.at(f"k{number}")
                taps += [site.page.evaluate(TAP, digit) for digit in "54"]
                saves.append(site.page.evaluate(SAVE, f"k{number}"))
        browser.close()
        running.stop()
    print(
        f"processor slowed {SLOWER} times, {len(taps)} keys, {len(saves)} saves; goals are choices of ours (FIELD 15)"
    )
    print(f"key to paint:  median {statistics.median(taps):.0f} ms, p95 {p95(taps):.0f} ms (goal < 50 ms)")
    print(f"next to saved: median {statistics.median(saves):.0f} ms, p95 {p95(saves):.0f} ms (goal < 150 ms)")


if __name__ == "__main__":
    main()
