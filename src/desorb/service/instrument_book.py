"""The book of instruments: how each one stands today, its run chart, and which cases carry a copy of it.

Contents: Standing, standing_of (ready, check due, not to be used); RunChart, run_chart (checks against the block, in
tolerances); Copy, copies (what each case wrote down of it); Doubt, doubt_of; Page, book.
A check is one reading on a block: it shows that the instrument repeats itself, it is no calibration.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from desorb.core.case import latest_by_id
from desorb.core.evidence import evidence_of
from desorb.core.kinds import Instrument, InstrumentCheck
from desorb.core.measurement_study import individuals_chart
from desorb.notebook.store import Store
from desorb.service.case_settings import warnings_of_instrument
from desorb.service.cases import Clock, OpenCase, case_names, load, now
from desorb.service.instruments import check_log, instruments

READY, CHECK_DUE, NOT_TO_BE_USED = "ready", "check due", "not to be used"
EDGE = Decimal("2.5")  # tolerances shown above and below the block; what lies beyond stands as an arrow at the edge
WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 640, 240, 70, 14, 14, 44  # px of the drawing
FEWEST_FOR_REACH = 8  # checks before their own spread is said; setting of ours


@dataclass(frozen=True, slots=True)
class Standing:
    """One of three words, and why."""

    word: str
    why: str


def standing_of(instrument: Instrument, checks: list[InstrumentCheck], moment: datetime) -> Standing:
    """How an instrument stands at a moment, by its last check on the block and its calibration."""
    past = [check for check in checks if datetime.fromisoformat(check.at) <= moment]
    last = past[-1] if past else None
    if last is not None and not last.passed:
        return Standing(
            NOT_TO_BE_USED, f"its last check failed on {last.at[:10]}: {last.value} on a block of {last.nominal}"
        )
    due = instrument.calibration_due
    why = [f"its calibration was due on {due}"] if due and moment.date() > date.fromisoformat(due) else []
    age = (moment - datetime.fromisoformat(last.at)).days if last else 0
    if instrument.block:
        interval = instrument.block[0].interval_days
        if last is None:
            why.append("it has no logged check yet")
        elif age > interval:
            why.append(f"last checked {age} days ago, on {last.at[:10]}; its interval is {interval} days")
    elif not due:
        why.append("neither a check block nor a calibration is described")
    if why:
        return Standing(CHECK_DUE, "; ".join(why))
    words = (
        [f"check passed on {last.at[:10]}, {age} days ago"]
        if last and instrument.block
        else ["no check block is described"]
    )
    words.append(f"calibrated until {due}" if due else "no date of calibration is described")
    return Standing(READY, "; ".join(words))


@dataclass(frozen=True, slots=True)
class Point:
    """One check on the chart: its place in px, the figure shown, whether it lies beyond the edge."""

    x: float
    y: float
    check: InstrumentCheck
    in_tolerances: str
    beyond: str  # '', 'above' or 'below'


@dataclass(frozen=True, slots=True)
class RunChart:
    """Checks in order: (reading - block) / tolerance. `words` say what a person should see."""

    points: tuple[Point, ...]
    words: str
    band_top: float
    band_bottom: float
    middle: float
    dates: tuple[tuple[float, str], ...]

    @property
    def path(self) -> str:
        return " ".join(
            f"{'M' if place == 0 else 'L'}{point.x:.1f} {point.y:.1f}" for place, point in enumerate(self.points)
        )


def run_chart(checks: list[InstrumentCheck]) -> RunChart | None:
    """The run chart of one instrument; None without a check. Checks on another block share it: their unit is the tolerance."""
    if not checks:
        return None
    moments = [datetime.fromisoformat(check.at) for check in checks]
    span = (moments[-1] - moments[0]).total_seconds() or 1.0
    points = []
    for check, moment in zip(checks, moments, strict=True):
        away = _in_tolerances(check)
        shown = max(-EDGE, min(EDGE, away))
        share = (moment - moments[0]).total_seconds() / span if len(checks) > 1 else 0.5
        x = LEFT + 10 + share * (WIDTH - LEFT - RIGHT - 20)
        beyond = "above" if away > EDGE else "below" if away < -EDGE else ""
        points.append(Point(round(x, 1), _height(shown), check, f"{away:+.2f}".replace("-", "\u2212"), beyond))
    ends = ((points[0].x, checks[0].at[:10]), (points[-1].x, checks[-1].at[:10]))
    dates = ends if checks[0].at[:10] != checks[-1].at[:10] else ends[:1]
    return RunChart(tuple(points), _said(checks), _height(Decimal(1)), _height(Decimal(-1)), _height(Decimal(0)), dates)


def _in_tolerances(check: InstrumentCheck) -> Decimal:
    away = Decimal(check.value.replace(",", ".")) - Decimal(check.nominal)
    tolerance = Decimal(check.tolerance)
    if tolerance == 0:
        return Decimal(0) if away == 0 else EDGE.copy_sign(away) * 2
    return away / tolerance


def _height(tolerances: Decimal) -> float:
    middle = TOP + (HEIGHT - TOP - BOTTOM) / 2
    return round(middle - float(tolerances / EDGE) * (HEIGHT - TOP - BOTTOM) / 2, 1)


def _said(checks: list[InstrumentCheck]) -> str:
    failed = [check for check in checks if not check.passed]
    last = checks[-1]
    words = (
        f"{len(checks)} check{'s' if len(checks) > 1 else ''}, the last on {last.at[:10]}: {last.value} on a block of"
    )
    words += f" {last.nominal} \u00b1 {last.tolerance}."
    words += f" {len(failed)} failed: {', '.join(check.at[:10] for check in failed)}." if failed else " None failed."
    same = [float(check.value.replace(",", ".")) for check in checks if check.nominal == last.nominal]
    if len(same) >= FEWEST_FOR_REACH:
        reach = individuals_chart(same)
        words += (
            f" By their own spread the checks reach from {reach.lower:.4g} to {reach.upper:.4g} around {reach.centre:.4g}"
            " (chart of single values, NIST/SEMATECH e-Handbook 6.3.2.2)."
        )
        if reach.signals:
            words += f" Outside it: check {', '.join(map(str, reach.signals))} of those on this block."
    return words


@dataclass(frozen=True, slots=True)
class Copy:
    """What a case wrote down of an instrument: the serial as it was then."""

    case: str
    name: str
    serial: str
    same: bool


def copies(store: Store) -> dict[str, list[Copy]]:
    """Instrument -> the cases that carry a copy of it."""
    known = instruments(store)
    found: dict[str, list[Copy]] = {}
    for name, case in case_names(store).items():
        folded = load(store, OpenCase(case, name, "UTC"))
        for key, entered in latest_by_id(folded.instruments).items():
            serial = entered.record.serial
            found.setdefault(key, []).append(Copy(case, name, serial, key in known and known[key].serial == serial))
    return found


@dataclass(frozen=True, slots=True)
class Doubt:
    """A failed check throws doubt back to the last good one: the cases read with it since then."""

    last_good: str
    cases: tuple[Copy, ...]


def doubt_of(store: Store, checks: list[InstrumentCheck], carried: list[Copy]) -> Doubt | None:
    """Which cases rest on an instrument that failed its last check; None while that passed."""
    if not checks or checks[-1].passed:
        return None
    good = [check for check in checks if check.passed]
    since = datetime.fromisoformat(good[-1].at) if good else None
    instrument = checks[-1].instrument
    concerned = [
        copy
        for copy in carried
        if any(
            each.instrument.id == instrument and (since is None or each.taken > since)
            for each in evidence_of(load(store, OpenCase(copy.case, copy.name, "UTC")))[0]
        )
    ]
    return Doubt(good[-1].at if good else "", tuple(concerned))


@dataclass(frozen=True, slots=True)
class Page:
    """One instrument as the page and the API show it."""

    instrument: Instrument
    standing: Standing
    checks: tuple[InstrumentCheck, ...]
    chart: RunChart | None
    copies: tuple[Copy, ...]
    warnings: tuple[str, ...]
    doubt: Doubt | None


def book(store: Store, clock: Clock = now) -> list[Page]:
    """Every instrument of this store, those not to be used first, then those due."""
    moment, carried = clock(), copies(store)
    pages = []
    for key, instrument in instruments(store).items():
        checks = check_log(store, key)
        pages.append(
            Page(
                instrument, standing_of(instrument, checks, moment), tuple(checks), run_chart(checks),
                tuple(carried.get(key, [])), tuple(warnings_of_instrument(instrument)),
                doubt_of(store, checks, carried.get(key, [])),
            )
        )  # fmt: skip
    order = (NOT_TO_BE_USED, CHECK_DUE, READY)
    return sorted(pages, key=lambda each: (order.index(each.standing.word), each.instrument.id))
