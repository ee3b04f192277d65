"""Sending photos from the phone: after the readings, one by one, and only an answer of the office about this photo counts."""

from __future__ import annotations

from typing import Any

import pytest
from device_page import open_device


@pytest.fixture
def device(page: Any, empty_office: str) -> Any:
    open_device(page, empty_office)
    return page


def test_readings_do_not_wait_for_photos(device: Any) -> None:
    """Twenty pictures are on their way; a reading taken meanwhile goes before the next picture."""
    found = device.evaluate(
        """async () => {
          const store = await newStore();
          for (let seed = 0; seed < 5; seed += 1) {
            const { sha256 } = await store.keepPhoto(CASE, jpeg(2000, seed));
            await store.write(CASE, "photo", { sha256 });
          }
          let puts = 0;
          const plain = office.fetch;
          office.fetch = async (address, options) => {
            if (options.method === "PUT" && (puts += 1) === 2) await store.write(CASE, ...note("meanwhile"));
            return plain(address, options);
          };
          const sender = begin(store);
          await sender.sendNow();
          return office.asked.map((line) => line.split(" ")[0]).join(" ");
        }"""
    )
    assert found == "POST PUT PUT POST PUT PUT PUT GET"


def test_no_room_for_photos_in_the_office_does_not_stop_text(device: Any) -> None:
    """The disk of the office is nearly full: photos wait with the reason, readings are received."""
    found = device.evaluate(
        """async () => {
          office.answers = (address, { method }) => (method === "PUT"
            ? json({ error: "StoreUnavailable", what: "photos are not taken now", got: "the disk is full", wanted: "",
              next: "free space" }, 507) : "well");
          const store = await newStore();
          const sender = begin(store);
          const { sha256 } = await store.keepPhoto(CASE, jpeg(4000));
          await store.write(CASE, "photo", { sha256 });
          await pass(5000);
          await store.write(CASE, ...note("later"));
          await pass(120000);
          return { states: (await store.entries(CASE)).map(({ state }) => state), photo: (await store.photos(CASE))[0],
            words: sender.state().words };
        }"""
    )
    assert found["states"] == ["received", "received"]
    assert found["photo"]["state"] == "here"
    assert "photos are not taken now" in found["photo"]["reason"]


def test_only_the_office_takes_the_photo(device: Any) -> None:
    """An answer that speaks of another photo, or of none, is not taken for this one: it waits and is sent again."""
    found = device.evaluate(
        """async () => {
          const store = await newStore();
          const { sha256 } = await store.keepPhoto(CASE, jpeg(4000));
          await store.write(CASE, "photo", { sha256 });
          const other = { sha256: "0".repeat(64), size: 1, state: "received" };
          const odd = [{ ok: true }, other, { sha256, size: 4000, state: "queued" }];
          office.answers = (address, { method }) => (method === "PUT" && odd.length ? json(odd.shift()) : "well");
          const sender = begin(store);
          await sender.settled(); // the first of the odd answers
          const states = [];
          for (let turn = 0; turn < 4; turn += 1) {
            await sender.sendNow();
            states.push((await store.photos(CASE))[0].state);
          }
          return states.join(" ");
        }"""
    )
    assert found == "here here received received"
