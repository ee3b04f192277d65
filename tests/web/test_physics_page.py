"""The page of the engine's comparisons."""

from __future__ import annotations

import httpx

from desorb.service import physics


def test_the_page_lists_every_case_and_says_how_many_hold(server: object) -> None:
    """A building physicist opens /physics before trusting a forecast."""
    answer = httpx.get(f"{server.address}/physics", timeout=120)  # type: ignore[attr-defined]
    assert answer.status_code == 200
    assert "0 outside their tolerance" in answer.text
    for name, title in physics.TITLES.items():
        assert f'id="{name}"' in answer.text
        assert title.split(":")[0].split(" (")[0] in answer.text
    assert "en15026-w-365d-0.04m" in answer.text
