"""Instruments and their check log belong to the store; each case carries the copy it used.

Contents: register (the chain they are kept in); describe_instrument; log_check (a failed one lists every case since the
last good one, and is written into each); copies_for (what a case still lacks).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal, InvalidOperation

from desorb.core.case import Case, latest_by_id
from desorb.core.evidence import evidence_of
from desorb.core.kinds import CLAIMS, PRINCIPLES, CaseOpened, Instrument, InstrumentCheck, Scale
from desorb.core.typed import read_value
from desorb.errors import InputError, NotFound
from desorb.notebook.store import Store
from desorb.service.cases import REGISTER_NAME, Clock, OpenCase, case_names, load, moment_text, now, write


def register(store: Store, clock: Clock = now) -> OpenCase:
    """The chain in which this store keeps its instruments; begun on first use."""
    for case in store.cases():
        if store.opening_of(case).get("name") == REGISTER_NAME:
            return OpenCase(case, REGISTER_NAME, "UTC")
    record = CaseOpened(REGISTER_NAME, "", "UTC")
    return OpenCase(store.open_case(record, clock().isoformat(timespec="seconds")), REGISTER_NAME, "UTC")


def _kept(store: Store) -> Case:
    """What stands in the register; nothing where it was not begun yet, because looking writes nothing."""
    begun = any(store.opening_of(case).get("name") == REGISTER_NAME for case in store.cases())
    return load(store, register(store)) if begun else Case("")


def instruments(store: Store) -> dict[str, Instrument]:
    """Every instrument of this store, as last described."""
    return {key: entered.record for key, entered in latest_by_id(_kept(store).instruments).items()}


def check_log(store: Store, instrument: str = "") -> list[InstrumentCheck]:
    folded = _kept(store)
    checks = [entered.record for entered in folded.checks if instrument in ("", entered.record.instrument)]
    return sorted(checks, key=lambda check: datetime.fromisoformat(check.at))


def describe_instrument(store: Store, instrument: Instrument, clock: Clock = now) -> bool:
    """Write down an instrument; True if this said anything new. Its scales are in the user's own words."""
    examine(instrument)
    if instruments(store).get(instrument.id) == instrument:
        return False
    write(store, register(store), [instrument], clock)
    return True


def examine(instrument: Instrument) -> None:
    """Refuse a description that cannot work, naming the part."""
    if not instrument.id.strip() or not instrument.scales:
        raise InputError("an instrument needs an id and at least one scale", got=repr(instrument.id))
    keys = [scale.key for scale in instrument.scales]
    if len(set(keys)) != len(keys):
        raise InputError(f"instrument {instrument.id} has two scales with one word", got=", ".join(keys))
    for scale in instrument.scales:
        _examine_scale(instrument.id, scale)
    for block in instrument.block:
        if instrument.scale(block.scale) is None:
            raise InputError(f"the check block of {instrument.id} names a scale it does not have", got=block.scale)
        for part in (block.nominal, block.tolerance):
            _number(f"check block of {instrument.id}", part)
        if Decimal(block.tolerance) < 0 or block.interval_days < 1:
            raise InputError(
                f"the check block of {instrument.id}: a tolerance is 0 or more, an interval one day or more",
                got=f"{block.tolerance}, {block.interval_days} days",
            )
    try:
        date.fromisoformat(instrument.calibration_due or "2000-01-01")
    except ValueError as problem:
        raise InputError(
            f"the calibration date of {instrument.id} is not a date",
            got=instrument.calibration_due,
            wanted="2026-09-30",
        ) from problem
    for table in instrument.corrections:
        if instrument.scale(table.scale) is None:
            raise InputError(f"the correction table of {instrument.id} names a scale it does not have", got=table.scale)
        if len(table.temperatures) != len(table.additions) or len(table.species) != len(table.species_additions):
            raise InputError(
                f"the correction table of {instrument.id} does not pair up",
                wanted="one addition for each temperature, and one for each species",
            )
        for part in (*table.temperatures, *table.additions, *table.species_additions):
            _number(f"correction table of {instrument.id}", part)


def _examine_scale(instrument: str, scale: Scale) -> None:
    where = f"scale {scale.key!r} of {instrument}"
    if scale.principle not in PRINCIPLES:
        raise InputError(f"{where}: this principle is not known", got=scale.principle, wanted=", ".join(PRINCIPLES))
    if scale.claims not in CLAIMS:
        raise InputError(f"{where}: what its number claims is not clear", got=scale.claims, wanted=", ".join(CLAIMS))
    if scale.claims == "comparative" and scale.unit:
        raise InputError(f"{where}: a comparative scale has no unit", got=scale.unit, next_step="leave the unit empty")
    if scale.claims == "equivalent" and not (scale.method and scale.material):
        raise InputError(f"{where}: an equivalent names its method and the material it was fitted to")
    if scale.unit == "%" and not scale.basis:
        raise InputError(f"{where}: a percentage by mass says its basis", wanted="dry or wet")
    for name in ("bottom", "top", "resolution", "depth", "repeatability"):
        if getattr(scale, name):
            _number(f"{where}, {name}", getattr(scale, name))
    if not (scale.bottom and scale.top and scale.resolution):
        raise InputError(
            f"{where}: bottom, top and resolution are part of the scale",
            next_step="read them from the instrument's own sheet; without them an end of the scale cannot be seen",
        )
    if Decimal(scale.bottom) >= Decimal(scale.top) or Decimal(scale.resolution) <= 0:
        raise InputError(f"{where}: the bottom must lie below the top, and the resolution above 0")
    if Decimal(scale.repeatability or "0") < 0:
        raise InputError(f"{where}: a repeatability limit is 0 or more", got=scale.repeatability)


def _number(where: str, text: str) -> None:
    try:
        if not Decimal(text).is_finite():
            raise InvalidOperation
    except InvalidOperation as problem:
        raise InputError(
            f"{where}: this is not a number", got=repr(text), wanted="digits with a decimal point"
        ) from problem


@dataclass(frozen=True, slots=True)
class CheckOutcome:
    check: InstrumentCheck
    last_good: str
    cases_in_doubt: tuple[str, ...]


def log_check(store: Store, instrument: str, value: str, *, at: str, by: str = "", clock: Clock = now) -> CheckOutcome:
    """Log a reading on the check block. A failed one throws doubt back to the last good one, in every case."""
    known = instruments(store)
    if instrument not in known:
        raise NotFound(f"there is no instrument {instrument!r}", wanted=f"one of: {', '.join(known) or 'none yet'}")
    if not known[instrument].block:
        raise InputError(
            f"{instrument} has no check block described", next_step="describe it with nominal and tolerance"
        )
    at = moment_text(at, "UTC")
    if datetime.fromisoformat(at) > clock() + timedelta(days=1):
        raise InputError("a check is not logged for the future", got=at, next_step="look at the year")
    block = known[instrument].block[0]
    typed = str(read_value(value).number)
    check = InstrumentCheck(instrument, block.scale, typed, block.nominal, block.tolerance, at, by)
    before = [each for each in check_log(store, instrument) if each.passed and _moment(each.at) < _moment(at)]
    last_good = before[-1].at if before else ""
    write(store, register(store), [check], clock)
    concerned = []
    for name, case in case_names(store).items():
        found = OpenCase(case, name, store.opening_of(case).get("time_zone", "UTC"))
        folded = load(store, found)
        if not any(each.record.id == instrument for each in folded.instruments):
            continue
        write(store, found, [check], clock)
        used_since = any(
            each.instrument.id == instrument and (not last_good or each.taken > _moment(last_good))
            for each in evidence_of(folded)[0]
        )
        if not check.passed and used_since:
            concerned.append(name)
    return CheckOutcome(check, last_good, tuple(concerned))


def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)


def copies_for(store: Store, case: Case, instrument: str) -> list[Instrument | InstrumentCheck]:
    """What the case still lacks of an instrument: its description as it is now, and its checks."""
    known = instruments(store)
    if instrument not in known:
        return []
    lacking: list[Instrument | InstrumentCheck] = []
    if case.instrument_at(instrument, 10**9) != known[instrument]:
        lacking.append(known[instrument])
    have = {entered.record for entered in case.checks} | {outcome.struck.record for outcome in case.struck}
    return lacking + [check for check in check_log(store, instrument) if check not in have]
