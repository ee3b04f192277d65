"""Drying at work: does the unit work, outside air or closed, what must be answered first - and attacks on the refusals."""

from __future__ import annotations

import itertools
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from desorb.core.air import AirState, air_state
from desorb.core.drying.enclosure import (
    AIR_CHANGE,
    FABRIC,
    Term,
    infiltration,
    load,
    term_of_air_change,
    ventilate_or_close,
)
from desorb.core.drying.evaporation import first_stage, free_water
from desorb.core.drying.harm_guard import (
    CAUTIONS,
    FOUL_WATER_ORDER,
    QUESTIONS,
    Answer,
    Answers,
    advice,
    hygiene_note,
    over_drying,
    sealed_extraction,
    unaffected_room,
)
from desorb.core.drying.keep_or_strip import CostLine, Decision, Option, compare, decide, drying_cost
from desorb.core.drying.power import Circuit, Tariff, Unit, cost, demand
from desorb.core.drying.sizing import (
    FIRST_DAY,
    PUBLISHED,
    Factors,
    air_movers,
    desiccant_flow,
    refrigerant_capacity,
    room_rule,
    wet_class,
)
from desorb.core.drying.unit_capacity import Derating, Rating, capacity_ratio, generic_derating, litres_a_day_here
from desorb.core.drying.unit_check import (
    Reading,
    Removal,
    Sensors,
    against_tank,
    air_side_removal,
    hints,
    recirculation,
)
from desorb.core.surface_log import Log
from desorb.errors import DesorbError, InputError, NotFound, NotUnderstood, OutOfRange, Refused

NO = Answer("no", by="A. Example")
ALL_NO = Answers(NO, NO, NO, NO)
DONE = Answer("dealt with", by="B. Example", reference="hygiene result 12")
SENSORS = Sensors(temperature=0.3, relative_humidity=2, flow=10)
INLET, OUTLET = Reading(22.0, 60), Reading(33.0, 28)


def _air(temperature: float, humidity: float) -> AirState:
    return air_state(air_temperature=temperature, relative_humidity=humidity)


def _removal() -> Removal:
    return air_side_removal(INLET, OUTLET, 350, "inlet", SENSORS)


# a unit, by air and by tank (tasks list 20)


def test_a_unit_by_its_air() -> None:
    """350 m3/h, 22.0/60 in, 33.0/28 out: 11.1 ± 0.6 L/day (tasks list 20; mass balance of JOB F16)."""
    found = _removal()
    assert found.litres_per_running_day == pytest.approx(11.1, abs=0.6)
    assert found.half_width > 0
    assert "±" in found.words


def test_half_a_day_of_running_agrees_with_the_tank() -> None:
    """12 of 24 h: 5.5 by air, 5.4 in the tank, consistent (tasks list 20)."""
    check = against_tank(_removal(), 12, 5.4)
    assert check.by_air == pytest.approx(5.5, abs=0.3)
    assert check.finding == "consistent"


def test_a_whole_day_of_running_does_not_agree_and_the_band_is_told() -> None:
    """24 h and 5.4 L: more than 20 % apart, with what the sensors leave open (tasks list 20)."""
    check = against_tank(_removal(), 24, 5.4)
    assert check.finding == "mismatch"
    assert "more than 20 %" in check.words
    assert check.band[0] < check.by_air < check.band[1]
    assert f"{check.band[0]:.1f} to {check.band[1]:.1f}" in check.words


def test_better_sensors_put_the_tank_outside_the_band() -> None:
    """With a probe of ±0.2 % the same tank is outside: now the unit is looked at, not only the probes."""
    fine = air_side_removal(INLET, OUTLET, 350, "inlet", Sensors(0.05, 0.2, 2))
    check = against_tank(fine, 24, 5.4)
    assert check.finding == "mismatch"
    assert "outside what the sensors leave open" in check.words
    assert "inside what the sensors leave open" in against_tank(_removal(), 24, 5.4).words


def test_the_mismatch_is_a_setting_and_the_edge_belongs_to_consistent() -> None:
    """20 % is ours, by JOB F16: exactly on it is not above it; 60 % lets the tank of 5.4 pass."""
    ten = Removal(10.0, 1.0, 1.0, "")
    assert against_tank(ten, 24, 8.0).finding == "consistent"
    assert against_tank(ten, 24, 7.9).finding == "mismatch"
    assert against_tank(_removal(), 24, 5.4, mismatch=60).finding == "consistent"


def test_three_days_of_tank_are_made_litres_a_day() -> None:
    """16.2 L over 72 h, 36 of them running, is the same as 5.4 over a day."""
    check = against_tank(_removal(), 36, 16.2, period_hours=72)
    assert (check.finding, round(check.by_tank, 2)) == ("consistent", 5.4)


def test_an_outlet_wetter_than_the_inlet_is_said_and_not_compared() -> None:
    """Probes swapped: I am told, and no tank is called consistent with it."""
    swapped = air_side_removal(OUTLET, INLET, 350, "inlet", SENSORS)
    assert swapped.litres_per_running_day < 0
    assert "swapped" in swapped.words
    assert against_tank(swapped, 24, 5.4).finding == "cannot say"
    assert against_tank(_removal(), 0, 5.4).finding == "cannot say"


def test_figures_that_cannot_be_are_refused() -> None:
    """More running hours than hours, a side that was not named, a probe without error, a tank below nothing."""
    with pytest.raises(OutOfRange):
        against_tank(_removal(), 25, 5.4)
    with pytest.raises(OutOfRange):
        against_tank(_removal(), 12, -1)
    with pytest.raises(InputError, match="Where the flow"):
        air_side_removal(INLET, OUTLET, 350, "", SENSORS)
    with pytest.raises(OutOfRange):
        Sensors(0.3, 0, 10)
    with pytest.raises(DesorbError):
        air_side_removal(Reading(22, 0.6), OUTLET, 350, "inlet", SENSORS)


# recirculation (tasks list 50)


def test_recirculation_by_temperature_and_an_interval_by_humidity() -> None:
    """Room 20, inlet 24, outlet 36: 0.25, on the setting, so it stays; humidity is an interval (tasks list 50)."""
    found = recirculation(Reading(20, 60), Reading(24, 45.5), Reading(36, 17), SENSORS)
    assert found.share == 0.25
    assert not found.resite
    assert found.by_humidity is not None
    low, high = found.by_humidity
    assert low < 0.25 < high
    assert all(round(end, 1) == end for end in found.by_humidity)
    assert f"by humidity {low:.1f} to {high:.1f}" in found.words


def test_more_than_the_setting_is_re_sited() -> None:
    """Inlet at 25: 0.31, above 0.25, re-site (tasks list 50); with a setting of 0.4 it stays."""
    where = (Reading(20, 60), Reading(25, 44), Reading(36, 17))
    assert recirculation(*where, SENSORS).resite
    assert "re-site" in recirculation(*where, SENSORS).next_step
    assert not recirculation(*where, SENSORS, setting=0.4).resite


def test_humidity_that_leaves_all_open_says_so() -> None:
    """Outlet nearly as moist as the room: no interval is made up."""
    found = recirculation(Reading(20, 60), Reading(24, 47.5), Reading(36, 24), Sensors(0.3, 5, 10))
    assert found.by_humidity is None
    assert "leaves it open" in found.words


def test_temperatures_that_mixing_cannot_make() -> None:
    """Inlet colder than the room: read again, no advice to re-site. Outlet as warm as the room: refused."""
    assert "cannot do this" in recirculation(Reading(20, 60), Reading(18, 60), Reading(36, 20), SENSORS).words
    with pytest.raises(Refused, match="warmer") as refused:
        recirculation(Reading(20, 60), Reading(20, 60), Reading(22, 50), SENSORS)
    assert refused.value.next_step


def test_hints_are_words() -> None:
    """A cold loft, a humidistat at 60 % in air of 58 %, an outlet no warmer: three reasons, no finding."""
    said = " ".join(hints(True, Reading(11, 58), Reading(11.5, 57), humidistat=60))
    assert all(word in said for word in ("ice", "humidistat at 60", "compressor"))
    assert "not read" in " ".join(hints(True, INLET, OUTLET))
    assert hints(True, INLET, OUTLET, humidistat=40) == ()


# ratings (tasks list 36)

RATING = Rating(20, Reading(26.7, 60), "domestic refrigerant", "plate")


def test_a_rating_is_not_litres_a_day_here() -> None:
    """A nominal rating used here without a source for what it does in this air is refused (tasks list 36)."""
    here = Reading(20, 60)
    for derating in (None, Derating(1.0, here, ""), Derating(1.0, here, "   ")):
        with pytest.raises(Refused, match="not litres a day here") as refused:
            litres_a_day_here(RATING, here, derating)
        assert "26.7 degC/60 %" in str(refused.value)
        assert refused.value.next_step


def test_the_rating_itself_needs_condition_and_source() -> None:
    """A plate without its condition, or a figure from nowhere, is no rating."""
    here = Reading(20, 60)
    with pytest.raises(DesorbError):
        litres_a_day_here(replace(RATING, condition=Reading(float("nan"), 60)), here, Derating(0.7, here, "sheet"))
    with pytest.raises(InputError):
        litres_a_day_here(replace(RATING, source=" "), here, Derating(0.7, here, "sheet"))


def test_the_generic_curve_takes_a_rating_to_this_room() -> None:
    """20 L/day at 26.7/60 is 20 x 0.718/0.987 at 20/60 (RULES section 7), and never more than told."""
    here = Reading(20, 60)
    found = litres_a_day_here(RATING, here, generic_derating(RATING, here))
    assert found.litres_per_day == pytest.approx(20 * 0.718 / 0.987, rel=2e-3)
    assert "not litres a day here" in found.words
    assert "Winkler" in found.words


def test_the_curve_of_other_air_is_not_borrowed() -> None:
    """The derating for 20/60 in a room of 12/70: refused; the curve for 12/70 warns of frost."""
    cold = Reading(12, 70)
    with pytest.raises(Refused, match="other air"):
        litres_a_day_here(RATING, cold, generic_derating(RATING, Reading(20, 60)))
    assert "frost" in litres_a_day_here(RATING, cold, generic_derating(RATING, cold)).words


@pytest.mark.parametrize("kind", ["desiccant", "low grain", "", "refrigerant"])
def test_the_curve_is_refused_for_other_units(kind: str) -> None:
    """RULES section 7: domestic units, not for low-grain or desiccant."""
    with pytest.raises(Refused, match="not for this kind"):
        capacity_ratio(20, 60, kind)
    with pytest.raises(Refused, match="not for this kind"):
        generic_derating(replace(RATING, kind=kind), Reading(20, 60))


@pytest.mark.parametrize(("temperature", "humidity"), [(5, 60), (40, 60), (20, 10), (20, 0.6), (float("nan"), 60)])
def test_the_curve_ends(temperature: float, humidity: float) -> None:
    """No frost, no fraction for a percentage, nothing missing: a sentence each time."""
    with pytest.raises(DesorbError):
        capacity_ratio(temperature, humidity)


# the air of the room (tasks list 36 and 49)


def test_infiltration_of_a_room() -> None:
    """50 m3, 0.4 1/h, room 20/60, outside 6/85: 2.2 ± 0.2 L/day (tasks list 36), by both forms."""
    found = infiltration(0.4, 50, _air(20, 60), _air(6, 85))
    assert found.kg_per_day == pytest.approx(2.2, abs=0.2)
    assert found.by_ratio == pytest.approx(2.2, abs=0.2)
    assert all(part in found.words for part in ("50 m3", "0.4 1/h", "20 degC 60 %", "6 degC 85 %"))


def test_a_load_is_named_terms_with_sources() -> None:
    """Every term stays visible with its source; the span runs over all of them."""
    fabric = Term(FABRIC, 6.0, 3.0, 8.0, "weighed from tank, days 1 to 2")
    found = load([fabric, term_of_air_change(infiltration(0.4, 50, _air(20, 60), _air(6, 85)))])
    assert found.kg_per_day == pytest.approx(3.8, abs=0.2)
    assert found.low < found.kg_per_day < found.high
    assert "weighed from tank" in found.words
    assert "mass balance, ideal gas" in found.words


@pytest.mark.parametrize(
    "terms",
    [
        [],
        [Term(FABRIC, 9, 9, 9, "experience")],
        [Term("total", 9, 9, 9, "experience"), Term(AIR_CHANGE, 0, 0, 0, "sealed")],
        [Term(FABRIC, 9, 9, 9, " "), Term(AIR_CHANGE, 0, 0, 0, "sealed")],
        [Term(FABRIC, 9, 10, 8, "weighed"), Term(AIR_CHANGE, 0, 0, 0, "sealed")],
        [Term(FABRIC, float("nan"), 1, 2, "weighed"), Term(AIR_CHANGE, 0, 0, 0, "sealed")],
    ],
)
def test_one_magic_number_is_no_load(terms: list[Term]) -> None:
    """A total, a term without source, a span that does not hold its value, half a load: each refused with a next step."""
    with pytest.raises(DesorbError) as refused:
        load(terms)
    assert refused.value.next_step


def test_outside_air_is_drier_today() -> None:
    """21/46 inside (7.08 g/kg), 8/85 outside (5.64): drier by 1.44 g/kg, heat 0.34 n V dT (tasks list 49)."""
    found = ventilate_or_close(_air(21, 46), _air(8, 85), 1.0, 14, 2, 100, ALL_NO)
    assert found.verdict == "ventilate"
    assert found.difference == pytest.approx(1.44, abs=0.03)
    assert "outside air is drier by 1.4" in found.words
    assert found.heat == pytest.approx(0.34 * 2 * 100 * 13)
    assert "dew point" in found.words


def test_it_reverses_on_a_warm_moist_day() -> None:
    """Outside 20/80: closed drying (tasks list 49)."""
    found = ventilate_or_close(_air(21, 46), _air(20, 80), 1.0, 18, 2, 100, ALL_NO)
    assert found.verdict == "close"
    assert "wetter" in found.words


def test_the_margin_and_the_cold_surface_decide_too() -> None:
    """A margin of 2 g/kg closes; air whose dew point lies above the coldest wall closes; no wall measured: cannot say."""
    inside, outside = _air(21, 46), _air(8, 85)
    assert ventilate_or_close(inside, outside, 2.0, 14, 2, 100, ALL_NO).verdict == "close"
    assert ventilate_or_close(_air(21, 80), outside, 1.0, 5, 2, 100, ALL_NO).verdict == "close"
    unmeasured = ventilate_or_close(inside, outside, 1.0, None, 2, 100, ALL_NO)
    assert unmeasured.verdict == "cannot say"
    assert "measure the coldest surface" in unmeasured.next_step


@pytest.mark.parametrize(
    "answers",
    [None, Answers(), replace(ALL_NO, open_flue=Answer()), replace(ALL_NO, foul_water=Answer("yes", "A"))],
)
def test_ventilating_is_not_spoken_of_before_the_questions(answers: Answers | None) -> None:
    """The comparison is told; whether to open the windows waits for the answers."""
    found = ventilate_or_close(_air(21, 46), _air(8, 85), 1.0, 14, 2, 100, answers)
    assert found.verdict == "cannot say"
    assert "No advice on ventilation" in found.next_step
    assert "drier by" in found.words


@pytest.mark.parametrize(("outside", "coldest"), [(_air(20, 80), 18), (_air(8, 85), 5)])
def test_closed_drying_is_no_advice_to_run_units_or_heat_before_the_questions(
    outside: AirState, coldest: float
) -> None:
    """Closed or too cold a wall: where the water was foul, neither units nor heat are the next step."""
    foul = replace(ALL_NO, foul_water=Answer("yes", "A"))
    found = ventilate_or_close(_air(21, 80), outside, 1.0, coldest, 2, 100, foul)
    assert found.verdict in ("close", "cannot say")
    assert "No advice on ventilation" in found.next_step
    assert "dry with units" not in found.next_step
    assert "warm the coldest" not in found.next_step


# foul water, mould, asbestos, flues (tasks list 44)


@pytest.mark.parametrize("kind", CAUTIONS)
def test_silence_until_every_question_is_answered(kind: str) -> None:
    """Each question open, at yes, by nobody, or dealt with without a record, for each kind of advice: refused, next step told."""
    bad = (
        Answer(),
        Answer("yes", "A"),
        Answer("no"),
        Answer("dealt with", "A"),
        Answer("unknown", "A"),
        Answer("No", "A"),
    )
    for field, answer in itertools.product(QUESTIONS, bad):
        with pytest.raises(Refused) as refused:
            advice(kind, replace(ALL_NO, **{field: answer}))
        assert refused.value.next_step
    answered = advice(kind, ALL_NO)
    assert "gives no permission" in answered.words
    assert len(answered.rests_on) == len(QUESTIONS)


def test_foul_water_explains_the_spread_and_lists_the_order_of_work() -> None:
    """Origin foul and nothing cleaned: no air movers, why, and what comes first (tasks list 44)."""
    foul = replace(ALL_NO, foul_water=Answer("yes", "A. Example"))
    with pytest.raises(Refused, match="into clean rooms") as refused:
        air_movers(1, 300, foul, "scan of 2 March")
    at = [refused.value.next_step.index(step) for step in FOUL_WATER_ORDER]
    assert at == sorted(at)
    assert air_movers(1, 300, replace(ALL_NO, foul_water=DONE), "scan of 2 March").span == (6, 7)


def test_sealed_extraction_is_somebodys_recorded_decision() -> None:
    """Only on the decision of a competent person, on record; asbestos and flues are asked even so (tasks list 44)."""
    foul = replace(ALL_NO, foul_water=Answer("yes", "A. Example"))
    told = sealed_extraction("C. Example", "hygienist", "file note 3", foul)
    assert "on the decision of C. Example" in told
    assert "not a hygiene clearance" in told
    for who in (("", "hygienist", "note"), ("C", " ", "note"), ("C", "hygienist", "")):
        with pytest.raises(Refused):
            sealed_extraction(*who, foul)
    with pytest.raises(Refused):
        sealed_extraction("C", "hygienist", "note", replace(foul, damaged_asbestos=Answer("yes", "A")))


def test_dryness_says_that_it_is_no_hygiene_clearance() -> None:
    """Unless one is attached (tasks list 44)."""
    for state in ("yes", "dealt with", "", "no"):
        assert "not a hygiene clearance" in hygiene_note(Answer(state, "A"), "  ")
    assert "lab 44" in hygiene_note(DONE, "lab 44")
    assert "not a hygiene" not in hygiene_note(DONE, "lab 44")


def test_other_kinds_of_advice_are_not_known() -> None:
    """'demolition' is not ours to talk about."""
    with pytest.raises(NotFound):
        advice("demolition", ALL_NO)


# secondary damage (tasks list 34)


def test_an_unaffected_bedroom_warns() -> None:
    """Dew point 13, coldest surface 15.5: 85 %, warned above 80 % (tasks list 34; [ISO-13788]); hours are counted."""
    room = air_state(air_temperature=20, dew_point=13)
    log = Log(np.array([0.0, 5.0, 10.0]), np.array([15.5, 15.5, 15.5]), np.array([85.0, 78.0, 78.0]))
    found = unaffected_room(room, 15.5, log)
    assert found.surface_humidity == pytest.approx(85, abs=0.5)
    assert found.warns
    assert found.hours_above == 5
    assert all(word in found.next_step for word in ("close", "exhaust", "warm"))
    assert not unaffected_room(room, 18).warns
    with pytest.raises(InputError, match="coldest surface"):
        unaffected_room(room, None)


def test_timber_is_not_dried_below_its_service() -> None:
    """A floor with continuous heating holds 9 to 11 % (BS 8201, from memory): 8 is too far, dry air takes 10.5 below."""
    assert over_drying(8, "continuous heating", 22, 30).state == "below"
    assert over_drying(10.5, "continuous heating", 30, 25).state == "near"
    assert over_drying(10.5, "continuous heating", 20, 55).state == "within"
    assert over_drying(20, "continuous heating", 20, 55).state == "above"
    with pytest.raises(NotFound):
        over_drying(10, "warm", 20, 50)


# power (tasks list 37)

UNITS = (Unit("dehumidifier", 950, 3, 1), Unit("air mover", 250, 6, 1))


def test_power_of_a_drying_plan() -> None:
    """3 x 950 + 6 x 250 W: 4350 W, 18.9 A at 230 V, 104 kWh a day; one 13 A outlet is exceeded (tasks list 37)."""
    found = demand(Circuit("kitchen outlet", 230, 13, "marked on the outlet"), UNITS)
    assert found.watts == 4350
    assert found.amperes == pytest.approx(18.9, abs=0.05)
    assert found.kwh_per_day == pytest.approx(104.4)
    assert found.exceeds
    assert "exceeds 13 A" in found.words
    assert "competent electrician decides" in found.words


@pytest.mark.parametrize("circuit", [Circuit("a", 230, 13, "plate"), Circuit("a", 230, 63, "plate"), Circuit("a", 230)])
def test_no_sentence_says_that_a_circuit_is_fit(circuit: Circuit) -> None:
    """Far below the rating or without one: the words never allow it, and an electrician is named every time."""
    for units in (UNITS, (Unit("air mover", 250, 1, 0.5),)):
        found = demand(circuit, units)
        said = f"{found.words} {found.next_step}".casefold()
        assert not any(
            word in said for word in ("can carry", "is safe", "sufficient", "enough", "adequate", " ok", "permitted")
        )
        assert "electrician" in said


@pytest.mark.parametrize(
    "tariff", [None, Tariff("", "EUR", "bill"), Tariff("0.30", "", "bill"), Tariff("0.30", "EUR", " ")]
)
def test_no_tariff_by_default(tariff: Tariff | None) -> None:
    """Cost only at a tariff that the user states (tasks list 37)."""
    with pytest.raises(Refused, match="no tariff by default") as refused:
        cost(104.4, tariff)
    assert "bill" in refused.value.next_step


def test_cost_at_a_stated_tariff() -> None:
    """104.4 kWh at 0,25: 26.10; a price in words, below nothing or above something is no price."""
    assert cost(104.4, Tariff("0,25", "EUR", "bill of March")).amount == Decimal("26.100")
    with pytest.raises(NotUnderstood):
        cost(104.4, Tariff("cheap", "EUR", "bill"))
    for price in ("-1", "0", ">0.2"):
        with pytest.raises(InputError):
            cost(104.4, Tariff(price, "EUR", "bill"))


@pytest.mark.parametrize(
    ("circuit", "units"),
    [
        (Circuit("", 230), UNITS),
        (Circuit("a", 0), UNITS),
        (Circuit("a", 230), ()),
        (Circuit("a", 230, 13, ""), UNITS),
        (Circuit("a", 230), (Unit("fan", -250, 1, 1),)),
        (Circuit("a", 230), (Unit("fan", 250, 0, 1),)),
        (Circuit("a", 230), (Unit("fan", 250, 1, 24),)),
    ],
)
def test_power_figures_that_cannot_be(circuit: Circuit, units: tuple[Unit, ...]) -> None:
    """No voltage, no unit, a rating from nowhere, hours for a share: refused."""
    with pytest.raises(InputError) as refused:
        demand(circuit, units)
    assert refused.value.next_step


# first-day rules


def test_every_simple_rule_is_labelled_a_start() -> None:
    """The label, the edition and the source stand in the sentence itself."""
    for start in (refrigerant_capacity(9600, 2, "low grain"), desiccant_flow(9600, 2), room_rule(50)):
        assert start.label == FIRST_DAY
        assert FIRST_DAY in start.words
        assert start.edition in start.words
        assert start.source in start.words
    assert FIRST_DAY in air_movers(1, 300, ALL_NO, "scan").words


def test_factors_are_the_users_to_edit_and_need_a_source() -> None:
    """The text that says 20 where another says 40: 9000 ft3 give 450 (RULES section 6), with its own source, or not at all."""
    own = Factors("own", "preparation text of a colleague", {"low grain": {3: 20}}, {})
    assert refrigerant_capacity(9000, 3, "low grain", own).value == 450
    with pytest.raises(InputError):
        refrigerant_capacity(9000, 3, "low grain", replace(own, source=""))
    with pytest.raises(OutOfRange):
        refrigerant_capacity(9000, 3, "low grain", replace(own, feet_per_pint={"low grain": {3: 0}}))
    with pytest.raises(InputError):
        room_rule(50, 6)
    assert PUBLISHED.feet_per_pint["low grain"][3] == 40


def test_where_no_factor_is_published_none_is_made_up() -> None:
    """Conventional units and class 4, a class 5, a unit of no known kind; air movers over what nobody mapped."""
    with pytest.raises(Refused, match="No factor"):
        refrigerant_capacity(9600, 4, "conventional")
    with pytest.raises(Refused):
        desiccant_flow(9600, 5)
    with pytest.raises(InputError):
        refrigerant_capacity(9600, 2, "desiccant")
    with pytest.raises(Refused, match="documented"):
        air_movers(1, 300, ALL_NO, " ")
    with pytest.raises(Refused, match="Nothing is wet"):
        air_movers(1, 0, ALL_NO, "scan")


@pytest.mark.parametrize(("share", "klass"), [(0, 1), (4.99, 1), (5, 2), (40, 2), (40.1, 3)])
def test_edges_of_the_classes(share: float, klass: int) -> None:
    """Under 5, 5 to 40, over 40 % (S500 2015 and 2021, read second hand); bound water is class 4 whatever the share."""
    assert wet_class(share, 100, False)[0] == klass
    assert wet_class(share, 100, True)[0] == 4


# keep, dry, strip or clean (tasks list 61)

DRY = Option("dry", (("18 % at 5 spots", "d/12"),), (CostLine("hire", "420", "EUR", "quotation 7"),), "clean", "d/3")
STRIP = Option(
    "strip", (("lining swollen", "photo 4"),), (CostLine("replace", "900", "EUR", "quotation 8"),), "clean", "d/3"
)


def test_options_stand_side_by_side_and_nothing_is_chosen() -> None:
    """Both costs with source, evidence, contamination, in the order given; people decide (tasks list 61)."""
    for order in ((DRY, STRIP), (STRIP, DRY)):
        found = compare("lining, north wall", order)
        assert [total[0] for total in found.totals] == [option.action for option in order]
        assert found.decision == ""
        assert "people responsible" in found.next_step
        assert all("quotation" in words and "clean" in words for words in found.words)
    with pytest.raises(Refused, match="No option is chosen"):
        decide(compare("lining, north wall", (DRY, STRIP)))


@pytest.mark.parametrize(
    "bad",
    [
        replace(DRY, evidence=()),
        replace(DRY, evidence=(("wet", ""),)),
        replace(DRY, costs=()),
        replace(DRY, costs=(CostLine("hire", "420", "EUR", " "),)),
        replace(DRY, contamination=""),
        replace(DRY, contamination_source=""),
    ],
)
def test_an_option_without_its_sources_is_refused(bad: Option) -> None:
    """No evidence, no cost, no source, no contamination: it cannot stand beside the others."""
    with pytest.raises(Refused, match="cannot stand beside") as refused:
        compare("lining", (bad, STRIP))
    assert refused.value.next_step


def test_one_option_or_two_currencies_are_no_comparison() -> None:
    """Nor the same option twice, nor an element without a name."""
    pounds = replace(DRY, costs=(CostLine("hire", "420", "GBP", "quotation 7"),))
    for options in ((DRY,), (), (DRY, DRY), (pounds, STRIP)):
        with pytest.raises(Refused):
            compare("lining", options)
    with pytest.raises(InputError):
        compare(" ", (DRY, STRIP))


def test_a_decision_is_kept_with_name_date_and_reason() -> None:
    """Who decided and when (tasks list 61); a decision by nobody or for something else is not taken."""
    made = Decision("strip", "owner and insurer", "2026-03-04", "swollen")
    assert "owner and insurer on 2026-03-04" in compare("lining", (DRY, STRIP), made).decision
    for wrong in (replace(made, by=""), replace(made, at=" "), replace(made, action="keep")):
        with pytest.raises(InputError):
            compare("lining", (DRY, STRIP), wrong)


def test_drying_a_foul_lining_carries_its_caution() -> None:
    """Drying what is foul lists the order of work; days times the daily cost stay an assumption."""
    lines = drying_cost(12, (CostLine("hire", "35", "EUR", "quotation 7"),))
    foul = replace(DRY, contamination="foul", costs=lines)
    found = compare("lining", (foul, STRIP))
    assert "verify hygiene" in found.words[0]
    assert "assumed" in found.words[0]
    assert found.totals[0][1] == Decimal(420)


# evaporation


def test_evaporation_never_comes_without_its_span() -> None:
    """Still pools were measured at 74 % of one form (RULES section 7); an unknown form, a gale or frozen air are refused."""
    found = free_water(20, _air(20, 50), 0)
    assert found.low < found.rate < found.high
    assert "settles" in free_water(15, _air(25, 80), 0).words
    for call in (lambda: free_water(20, _air(20, 50), 0, "best"), lambda: free_water(20, _air(20, 50), 50),
                 lambda: free_water(20, _air(-5, 50), 0), lambda: first_stage(_air(20, 50), 0)):  # fmt: skip
        with pytest.raises(InputError):
            call()
