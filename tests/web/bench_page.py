"""What the tests of settings, instruments, practice, files and redaction share: asking the API, axe, targets, reflow."""

from __future__ import annotations

from typing import Any

import httpx
from axe_playwright_python.sync_playwright import Axe

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
NARROW = {"width": 320, "height": 568}
SMALL_TARGETS = """() => {
  const kinds = ['button', 'input', 'select', 'textarea', 'summary', '.button'].map((kind) => `main ${kind}`).join();
  const box = (each) => (each.closest('label') ?? each).getBoundingClientRect();
  return [...document.querySelectorAll(kinds)]
    .filter((each) => each.type !== 'hidden' && each.getClientRects().length)
    .filter((each) => box(each).height < 43.5 || box(each).width < 43.5)
    .map((each) => each.outerHTML.slice(0, 80));
}"""


def post(server: Any, path: str, body: dict[str, Any] | None = None, **parts: Any) -> httpx.Response:
    parts = {"json": body, **parts} if "content" not in parts else parts
    return httpx.post(f"{server.address}{path}", headers={"origin": server.address}, timeout=60, **parts)


def get(server: Any, path: str) -> httpx.Response:
    return httpx.get(f"{server.address}{path}", timeout=60)


def audit(page: Any) -> list[str]:
    """What axe has to say in both themes, targets that are too small, and sideways scroll at 320 px."""
    found: list[str] = []
    for details in page.query_selector_all("details"):
        details.evaluate("each => { each.open = true }")
    for theme, rules in (("light", TAGS), ("dark", {"type": "rule", "values": ["color-contrast"]})):
        page.emulate_media(color_scheme=theme)
        for violation in Axe().run(page, options={"runOnly": rules}).response["violations"]:
            found.append(f"{theme} {violation['id']}: {violation['nodes'][0]['html'][:120]}")
    found += [f"small: {html}" for html in page.evaluate(SMALL_TARGETS)]
    page.set_viewport_size(NARROW)
    wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    return found + ([f"scrolls sideways by {wide} px at 320 px"] if wide > 0 else [])
