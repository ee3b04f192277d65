"""What the units draw: watts, amperes at a stated voltage, energy a day. What exceeds a rating is said; nothing is allowed.

Contents: Unit and Circuit - demand - Tariff and cost. No sentence here says that a circuit is fit for its units: a competent
electrician decides. Resistive arithmetic: starting currents and power factor come on top.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from desorb.core.drying.given import figure, stated
from desorb.core.typed import read_value
from desorb.errors import InputError, Refused

ELECTRICIAN = "a competent electrician decides; nothing here says that a circuit is fit for this"
WATER_FIRST = "wet circuits are isolated and tested before anything is energised"


@dataclass(frozen=True, slots=True)
class Unit:
    """name; watts of one, from its plate; count; duty, share of the day that it runs, 0 to 1."""

    name: str
    watts: float
    count: int
    duty: float


@dataclass(frozen=True, slots=True)
class Circuit:
    """voltage [V] as stated for the place; rating [A] of the outlet or protective device and where it was read, or None."""

    name: str
    voltage: float
    rating: float | None = None
    rating_source: str = ""


@dataclass(frozen=True, slots=True)
class Demand:
    """watts [W], amperes [A] at the stated voltage, kwh_per_day at the stated duty. exceeds: None where no rating is stated."""

    circuit: str
    watts: float
    amperes: float
    kwh_per_day: float
    exceeds: bool | None
    words: str
    next_step: str


@dataclass(frozen=True, slots=True)
class Tariff:
    """price of one kWh as typed, its currency and its source (bill, contract). There is no tariff by default."""

    price: str
    currency: str
    source: str


@dataclass(frozen=True, slots=True)
class Cost:
    """amount a day in the currency of the tariff."""

    amount: Decimal
    words: str


def demand(circuit: Circuit, units: Sequence[Unit]) -> Demand:
    """What the units of one circuit draw together, all running at once. Raises InputError, OutOfRange.

    A rating needs its source. Exceeding it is said; not exceeding it is no word that the circuit is fit.
    """
    name = stated(circuit.name, "which circuit", "name the outlet or circuit")
    voltage = figure(circuit.voltage, "voltage", 50.0, 480.0, "V")
    if not units:
        raise InputError("No unit is named", got="none", wanted="the units on this circuit", next_step="list them")
    watts = energy = 0.0
    for unit in units:
        if figure(unit.count, f"number of {unit.name}", 1, 1000, "units") % 1:
            raise InputError(
                "The number of units cannot be used",
                got=f"{unit.count!r} of {unit.name!r}",
                wanted="1 or more",
                next_step="count them, or leave the unit out",
            )
        each = figure(unit.watts, f"watts of {unit.name}", 1.0, 50_000.0, "W")
        watts += each * unit.count
        energy += each * unit.count * figure(unit.duty, f"duty of {unit.name}", 0.0, 1.0, "(a share)") * 24 / 1000
    amperes = watts / voltage
    told = f"{name}: {watts:.0f} W, {amperes:.1f} A at {voltage:g} V, {energy:.1f} kWh a day at the stated duty"
    check = f"{ELECTRICIAN}; {WATER_FIRST}"
    if circuit.rating is None:
        return Demand(
            name, watts, amperes, energy, None, f"{told}; no rating is stated, so nothing is compared; {check}",
            "read the rating of the outlet and of its protective device, and have the circuit checked",
        )  # fmt: skip
    rating = figure(circuit.rating, "rating", 0.5, 1000.0, "A")
    source = stated(circuit.rating_source, "where the rating was read", "read it off the outlet or device, or ask")
    if amperes > rating:
        return Demand(
            name, watts, amperes, energy, True,
            f"{told}; this exceeds {rating:g} A ({source}) by {amperes - rating:.1f} A; {check}",
            "spread the units over separate circuits or bring in a supply, as the electrician says",
        )  # fmt: skip
    return Demand(
        name, watts, amperes, energy, False,
        f"{told}; {100 * amperes / rating:.0f} % of {rating:g} A ({source}), what else hangs on it and hours of full load not"
        f" counted; {check}", "have the circuit checked before it is loaded all day",
    )  # fmt: skip


def cost(kwh_per_day: float, tariff: Tariff | None) -> Cost:
    """Energy times the tariff that the user states. [kWh/day] Refused without one. NotUnderstood for a price in words."""
    energy = figure(kwh_per_day, "energy", 0.0, 1e6, "kWh a day")
    if tariff is None or not (tariff.price.strip() and tariff.currency.strip() and tariff.source.strip()):
        raise Refused(
            "There is no tariff by default, and no cost without one",
            got="no tariff" if tariff is None else f"{tariff.price!r} {tariff.currency!r} from {tariff.source!r}",
            wanted="price of a kWh, currency, and where it was read",
            next_step="take it from the bill of this building",
        )
    price = read_value(tariff.price)
    if price.bound or price.number <= 0:
        raise InputError(
            "The price cannot be used", got=tariff.price, wanted="one number above 0", next_step="read the bill again"
        )
    amount = Decimal(repr(energy)) * price.number
    return Cost(
        amount,
        f"{amount:.2f} {tariff.currency.strip()} a day: {energy:.1f} kWh at {price.text} ({tariff.source.strip()})",
    )
