"""Every operation of the API against its own description: generated requests, good and bad, and one that is known to work.

The description is made from the application itself, so an operation that is added tomorrow is tested tomorrow.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any, cast

import httpx
import pytest
import schemathesis
from good_calls import GOOD_CALLS, Call, Place
from hypothesis import HealthCheck, Phase, settings
from web_operations import operations

from desorb.service.cases import case_names
from desorb.web.app import create_app
from desorb.web.desk import Desk
from desorb.web.door import Door

NOT_VALID = "the request cannot be used"  # how problems.py begins what does not fit the description
QUICK, LONG_RUN = 50, 500  # beside them, for each operation, every example and every edge of its description
DESCRIPTION = cast(Any, cast(Door, create_app(Desk(cast(Any, None)))).app).openapi()
# 422 is our answer to what a description cannot express (a zone that is not there, a name that is taken), always in words.
# A request that fits its description and is yet called not understood would be a fault of the description: see try_it.
ACCEPTED = ["2xx", "3xx", "403", "404", "409", "422", "429"]
for media_type in ("image/heic", "image/jpeg", "image/png", "image/webp"):
    schemathesis.serializer.alias(media_type, "application/octet-stream")
CONFIG = schemathesis.Config.from_dict({"checks": {"positive_data_acceptance": {"expected-statuses": ACCEPTED}}})
schema = schemathesis.openapi.from_dict(DESCRIPTION, config=CONFIG)
CHOSEN = settings(
    max_examples=QUICK, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True, database=None,
    phases=(Phase.explicit, Phase.generate),
)  # fmt: skip


@pytest.fixture(scope="module")
def throwaway(demo_built: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A server over a store of its own that may be filled with anything."""
    from conftest import Running

    home = Path(shutil.copytree(demo_built, tmp_path_factory.mktemp("throwaway") / "home"))
    server = Running(home)
    server.case = case_names(server.store)["quillfen"]  # type: ignore[attr-defined]
    yield server
    server.stop()


@pytest.fixture(scope="module")
def known(demo_built: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A server over a store that only the known-good calls have touched."""
    from conftest import Running

    home = Path(shutil.copytree(demo_built, tmp_path_factory.mktemp("known") / "home"))
    server = Running(home)
    yield server
    server.stop()


def try_it(case: Any, server: Any) -> None:
    """Half of the requests speak of the case that is there, so that what lies behind it is reached."""
    parameters = case.path_parameters or {}
    digest = hashlib.sha256(repr((parameters, case.query, case.body)).encode()).digest()
    known = {"case": server.case, "spot": "k3", "instrument": "m1"}
    if digest[0] % 2 and case.meta is not None and case.meta.generation.mode.is_positive:
        case.path_parameters = {name: known.get(name, value) for name, value in parameters.items()}
    answer = case.call_and_validate(base_url=server.address, headers={"origin": server.address}, timeout=120)
    if answer.status_code == 422:
        assert set(answer.json()) == {"error", "what", "got", "wanted", "next"}
        assert answer.json()["what"]
        is_positive = case.meta is not None and case.meta.generation.mode.is_positive
        assert not (is_positive and answer.json()["what"].startswith(NOT_VALID)), answer.json()


@schema.parametrize()
@CHOSEN
def test_every_operation_keeps_its_word(case: Any, throwaway: Any) -> None:
    """A program written against the description gets what it says, and never an answer that says 'inside'."""
    try_it(case, throwaway)


@pytest.mark.soak
@schema.parametrize()
@settings(CHOSEN, max_examples=LONG_RUN, derandomize=False)
def test_every_operation_keeps_its_word_for_long(case: Any, throwaway: Any) -> None:
    """The same, ten times as long, with other requests each time."""
    try_it(case, throwaway)


def test_the_description_names_every_operation() -> None:
    """Nothing of the API is left out of its description, and no page is in it."""
    described = {f"{method.upper()} {path}" for path, methods in DESCRIPTION["paths"].items() for method in methods}
    assert described == {each.name for each in operations() if each.is_api}


def test_every_operation_has_a_call_that_is_known_to_work() -> None:
    """Somebody adds an operation and no call that reaches it: this test says so."""
    there = {each.name for each in operations() if each.is_api}
    assert there - set(GOOD_CALLS) == set(), "write a known-good call in tests/web/good_calls.py"
    assert set(GOOD_CALLS) - there == set(), "these calls reach nothing that is there"


@pytest.mark.parametrize("name", sorted(GOOD_CALLS))
def test_the_known_good_call_works(name: str, known: Any) -> None:
    """Each operation is reached with a success at least once."""
    place = Place(known, case_names(known.store)["quillfen"])
    call: Call = GOOD_CALLS[name](place)
    method, path = name.split(" ", 1)
    for part, value in ({"case": place.case} | call.path).items():
        path = path.replace(f"{{{part}}}", value)
    answer = httpx.request(
        method, f"{known.address}{path}", params=call.query or None, json=call.json, content=call.content,
        headers={"origin": known.address} | call.headers, timeout=120,
    )  # fmt: skip
    assert answer.status_code == call.status, answer.text[:500]
