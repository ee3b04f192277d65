"""An office put back from a copy lacks numbers in the middle: they are sent again, and the case is not forgotten."""

from __future__ import annotations

from typing import Any

from device_page import CASE, PACK, open_device


def test_numbers_the_office_lost_are_sent_again_and_the_case_stays(page: Any, empty_office: str) -> None:
    """The office was restored from an older copy with a hole in it: this phone still has those entries, and gives them."""
    open_device(page, empty_office)
    found = page.evaluate(
        """async ([CASE, PACK]) => { const store = await openStore(); await store.savePack(PACK);
        const kept = [];
        for (const words of ["one", "two", "three"]) kept.push(await store.write(CASE, "note", { words }));
        const { settleEntries } = await import("/static/site/outbox.js");
        const settle = () => settleEntries(store, CASE, kept.map(({ hash }) => ({ hash, state: "received" })), 50);
        await settle();
        const device = await store.device();
        const given = { ...PACK, devices: { [device]: [2, kept[2].hash] }, missing: { [device]: [[1, 1]] } };
        await store.savePack(given);
        const states = (await store.entries(CASE)).map(({ state }) => state);
        const beyond = (await store.beyondPack(CASE)).map(({ n }) => n);
        await settle();
        const refused = await store.forgetCase(CASE).then(() => "", (problem) => problem.message);
        await store.savePack({ ...given, missing: {} });
        await store.forgetCase(CASE);
        return { states, beyond, refused, left: await store.pack(CASE) }; }""",
        [CASE, PACK],
    )
    assert found["states"] == ["received", "here", "received"]
    assert found["beyond"] == [1]
    assert "does not hold 1 entries" in found["refused"]
    assert found["left"] is None
