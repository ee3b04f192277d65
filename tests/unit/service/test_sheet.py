"""service/sheet.py: a building, its gates and visits in a text file; rows that do not fit are named, others kept."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from case_builder import METER, Desk

from desorb.errors import InputError, NotUnderstood
from desorb.notebook.schema import RECORD_OF_KIND
from desorb.service.sheet import NOT_IN_A_SHEET, instruments_of_sheet, media_type_of, read_sheet, read_sheet_file

PNG = b"\x89PNG\r\n\x1a\n" + b"invented"
JPEG = b"\xff\xd8\xff" + b"invented"

EVERYTHING = """
[[setting]]
key = "altitude"
value = 120
unit = "m"
source = "map"

[[rule_row]]
scale_class = "hole"
on_logarithms = false
class_spread = 1.5
margin = "3"
repeatability = "2"
source = "me"

[[construction]]
id = "w"
words = "wall"
material = "brick"
built = 1890
risks = ["listed"]
layers = [{ words = "render", thickness_mm = 20, evidence = "seen" }]

[[zone]]
id = "z"
words = "flank"
construction = "w"
outline = ["0 0", "1 0", "1 1"]

[[spot]]
id = "s"
zone = "z"
element = "wall"
role = "control"
x = 1.5
height = "0.3"

[[visit]]
id = "v1"
begun_at = 2026-03-02T09:00:00

[[readiness]]
instrument = "m1"
visit = "v1"
battery = true
contacts_free = "no"
at = 2026-03-02

[[scale_shown]]
visit = "v1"
instrument = "m1"
scale = "comparative"
shown = "100"
at = "2026-03-02T09:05"

[[scan]]
visit = "v1"
zone = "z"
element = "wall"
area_m2 = 4.5
spacing_m = 0.3
edge = "none"
at = "2026-03-02"

[[salt_test]]
zone = "z"
element = "wall"
result = "negative"
method = "strip"
at = "2026-03-02T10:00"

[[unit_change]]
unit = "u1"
type = "heater"
zone = "z"
change = "set"
at = "2026-03-02T11:00"

[[gate_answer]]
gate = "asbestos"
zones = ["z"]
materials = ["render"]
reference = "r"
by = "b"
for_what = "f"
result = "none"
at = "2026-03-02"
wish_to_override = false

[[hazard]]
gate = "structure"
zone = "z"
words = "leans"
at = "2026-03-02"
depth_mm = 10
area_m2 = 4

[[water_origin]]
zone = "z"
origin = "grey"
words = "sink"
at = "2026-03-02"
visible_mould = "no"

[[finding_answer]]
code = "display-held"
visit = "v1"
instrument = "m1"
scale = ""
words = "w"
at = "2026-03-02"
by = "b"

[[event]]
at = 2026-02-27
words = "water came"
source = "told"

[[note]]
words = "remember the key"
at = "2026-03-02"

[[not_inspected]]
place = "void"
why = "sealed"
effect = "unknown"
elements = ["z/wall"]

[[instrument]]
id = "n1"
words = "new meter"
serial = "9"
calibration_due = "2026-12-31"
block = { scale = "c", nominal = 50, tolerance = 2, interval_days = 30 }

[[instrument.scales]]
key = "c"
principle = "capacitance"
claims = "comparative"
bottom = 0
top = 100
resolution = 1

[[room]]
id = "r1"
words = "front room"
outline = ["0 0", "4.2 0", "4.2 3", "0 3"]
height = 2.4
openings = [{ kind = "door", wall = 0, start = 0.5, width = 0.8 }]

[[not_read]]
spot = "s"
visit = "v1"
why = "behind the boiler"
at = "2026-03-02T10:20"

[[photo]]
file = "wall.png"
words = "north"
taken_at = "2026-03-02T10:00"

[[limit_stated]]
id = "ours"
quantity = "relative humidity in a hole"
comparison = "<="
value = 75
unit = "%RH"
standard = "sheet of an invented adhesive"
edition = "2026-01"
at = "2026-03-02"

[[floor_test]]
id = "f1"
zone = "z"
method = "hole"
area = 40
thickness = 100
drying_faces = 1
edition = 2018
at = "2026-03-02"
survey = [{ place = "p1", value = 52, scale = "comparative", instrument = "m1" }]

[[floor_place]]
test = "f1"
place = "h1"
at = "2026-03-02T11:00"
depth = 40
lined = true

[[floor_reading]]
test = "f1"
place = "h1"
at = "2026-03-03T12:00"
value = 72.4
uncertainty = 2

[[sample]]
id = "s1"
zone = "z"
element = "wall"
material = "brick"
taken_at = "2026-03-02T12:00"
depth_from = 10
depth_to = 40

[[custody]]
sample = "s1"
step = "taken"
at = "2026-03-02T12:00"
by = "b"
mass = 32.5

[[weighing]]
sample = "s1"
state = "moist"
mass = 21.50
at = "2026-03-03T12:00"

[[carbide_reading]]
sample = "s1"
at = "2026-03-02T13:00"
sample_mass = 20
gauge_pressure = 0.4
temperature = 20
free_volume = 676.5
crushed = true

[[cup_reading]]
sample = "s1"
at = "2026-03-02T15:00"
closed_at = "2026-03-02T13:00"
humidity = 71.5
temperature = 20.1

[[salt_content]]
sample = "s1"
at = "2026-03-09"
chloride = 0.3

[[leak_test]]
id = "l1"
zone = "z"
test = "dye"
system = "waste"
section = "shower tray"
start = "2026-03-02T13:00"
end = "2026-03-02T15:00"
planned_minutes = 120
litres = 20
watched = ["ceiling below"]
looked_before = true

[[cause_observation]]
zone = "z"
name = "wets after use"
known = "told"
words = "drips after showers, they say"
at = "2026-03-02"

[[cause_test]]
zone = "z"
test = "dye"
words = "no colour in two hours"
at = "2026-03-02"
disproves = ["waste"]

[[unit]]
id = "u1"
type = "refrigerant dehumidifier"
at = "2026-03-01"
litres_per_day = 30
rated_temperature = 30
rated_humidity = 80
rating_source = "label"
watts = 620

[[unit_reading]]
unit = "u1"
visit = "v1"
taken_at = "2026-03-02T10:00"
hours = 24

[[enclosure]]
id = "e1"
zones = ["z"]
volume = 40.5
at = "2026-03-01"

[[load_term]]
enclosure = "e1"
term = "people"
litres_per_day = 2
low = 1
high = 4
source = "two people live there; common practice, no source"
at = "2026-03-01"

[[circuit]]
id = "c1"
place = "hall"
voltage = 230
rating = 16
rating_source = "label of the breaker"
at = "2026-03-01"

[[tariff]]
price = "0.30"
currency = "EUR"
source = "bill of the owner"
at = "2026-03-01"

[[target]]
zone = "z"
element = "wall"
basis = "control"
source = "controls of 1 March"
at = "2026-03-01"

[[drying_option]]
zone = "z"
element = "wall"
option = "dry"
evidence = "plaster is firm"
evidence_source = "knocked, 1 March"
contamination = "clean"
contamination_source = "supply water"
at = "2026-03-01"

[[option_cost]]
zone = "z"
element = "wall"
option = "dry"
name = "two units"
amount = 40
currency = "EUR"
source = "hire list"
days = 14
at = "2026-03-01"

[[option_taken]]
zone = "z"
element = "wall"
option = "dry"
reason = "cheaper, and the plaster is old"
at = "2026-03-01"
by = "the owner"

[[time_limit]]
id = "t1"
words = "first report to the insurer"
began_on = 2026-03-01
began = "claim reported"
length = 10
counted_in = "working days"
calendar = "England and Wales"
source = "contract, clause 4"
at = "2026-03-01"

[[not_done]]
visit = "v1"
words = "loft not entered"
reason = "no ladder"
at = "2026-03-02"

[[occupancy]]
zone = "z"
call = "the surveyor, number on the card"
at = "2026-03-01"
children = true
"""


GAS = """[[gate_answer]]
gate = "gas"
zones = ["kitchen"]
materials = []
reference = "r"
by = "b"
for_what = "f"
result = "x"
at = "2026-03-02"
"""
HAZARD = '[[hazard]]\ngate = "structure"\nzone = "kitchen"\nwords = "w"\nat = "2026-03-02"\ndepth_mm = 0'


def rule_row(**parts: str) -> str:
    cells = {"scale_class": "x", "class_spread": "1", "margin": "1", "repeatability": "1", "source": "me"} | parts
    return "[[rule_row]]\non_logarithms = true\n" + "\n".join(f'{name} = "{text}"' for name, text in cells.items())


def test_every_kind_of_record_that_a_sheet_may_hold(desk: Desk) -> None:
    """One of each, with TOML numbers, dates, yes/no and nested tables: all become the text that stands in the record."""
    (desk.folder / "wall.png").write_bytes(PNG)
    taken = desk.sheet(EVERYTHING)
    assert taken.problems == []
    kinds = {kind for kind in RECORD_OF_KIND if kind not in NOT_IN_A_SHEET}
    assert taken.kept == taken.rows == len(kinds) == 48
    folded = desk.folded()
    assert folded.setting("altitude") == "120"
    row = folded.rule_row("hole")
    assert row is not None
    assert (row.on_logarithms, row.class_spread) == (False, "1.5")
    construction = folded.constructions[-1].record
    assert (construction.built, construction.layers[0].thickness_mm) == ("1890", "20")
    assert folded.spots[-1].record.x == "1.5"
    assert folded.visits[-1].record.begun_at == "2026-03-02T09:00:00+00:00"
    readiness = folded.readiness[-1].record
    assert (readiness.battery, readiness.contacts_free, readiness.at) == ("yes", "no", "2026-03-02T12:00:00+00:00")
    assert folded.gate_answers[-1].record.wish_to_override is False
    assert folded.hazards[-1].record.depth_mm == "10"
    assert folded.events[-1].record.at == "2026-02-27T12:00:00+00:00"
    instrument = next(e.record for e in folded.instruments if e.record.id == "n1")
    assert (instrument.scales[0].top, instrument.block[0].interval_days) == ("100", 30)
    photo = folded.photos[-1].record
    assert (photo.media_type, photo.size, desk.store.attachment(photo.sha256)) == ("image/png", len(PNG), PNG)


def test_taking_a_sheet_twice_adds_nothing(desk: Desk) -> None:
    (desk.folder / "wall.png").write_bytes(PNG)
    desk.sheet(EVERYTHING)
    entries = desk.folded().entry_count
    again = desk.sheet(EVERYTHING)
    assert (again.kept, again.known, again.ok) == (0, 48, True)
    assert desk.folded().entry_count == entries


def test_the_same_row_twice_in_one_sheet(desk: Desk) -> None:
    row = '[[visit]]\nid = "v9"\nbegun_at = "2026-03-09T09:00"\n'
    assert (desk.sheet(row + row).kept, len(desk.folded().visits)) == (1, 1)


@pytest.mark.parametrize(
    ("row", "got", "wanted"),
    [
        ('[[kitchen]]\nid = "k"', "kitchen", "one of: instrument, readiness, scale_shown"),
        ('[[reading]]\nspot = "k1"', "reading", "no such table"),
        ('[[strike]]\ntarget = "x"', "strike", "no such table"),
        ('[[instrument_check]]\nvalue = "50"', "instrument_check", "no such table"),
        ('[[zone]]\nid = "z"\nwords = "z"', "this row", "zone lacks construction"),
        ('[[zone]]\nid = "z"\nwords = "z"\nconstruction = "c"\ncolour = "red"', "colour", "parts that are not known"),
        ('[[zone]]\nid = "z"\nwords = "z"\nconstruction = "c"\naffected = "maybe"', "maybe", "yes, no"),
        ('[[spot]]\nid = "s"\nzone = "z"\nelement = "e"\nrole = "boss"', "boss", "control, survey"),
        ('[[spot]]\nid = "s"\nzone = "z"\nelement = "e"\nx = "left"', "'left'", "x is not a number"),
        ('[[spot]]\nid = "s"\nzone = "z"\nelement = "e"\nx = nan', "'nan'", "x is not a number"),
        ('[[hazard]]\ngate = "dragons"\nzone = "z"\nwords = "w"\nat = "2026-03-02"', "dragons", "electricity"),
        ('[[hazard]]\ngate = "gas"\nzone = "z"\nwords = "w"\nat = "yesterday"', "'yesterday'", "not a date and time"),
        (
            '[[salt_test]]\nzone = "z"\nelement = "e"\nresult = "some"\nmethod = "m"\nat = "2026-03-02"',
            "some",
            "positive, negative",
        ),
        (
            '[[gate_answer]]\ngate = "gas"\nzones = "z"\nmaterials = [1]\nreference = "r"\nby = "b"\nfor_what = "f"\nresult = "x"'
            '\nat = "2026-03-02"\nwish_to_override = "yes"',
            "'yes'",
            "wrong kind",
        ),
        ('[[construction]]\nid = "c"\nwords = "w"\nmaterial = "m"\nlayers = ["thick"]', "str", "is not an object"),
        ('[[construction]]\nid = "c"\nwords = "w"\nmaterial = "m"\nrisks = { a = 1 }', "{'a': 1}", "is not a list"),
        (rule_row(class_spread="wide"), "'wide'", "class_spread is not a number"),
        (rule_row(class_spread="0"), "0, 1", "lie above 0"),
        (rule_row(margin="-1"), "1, -1", "lie above 0"),
        (rule_row(repeatability="-1"), "-1", "0 or more"),
        (rule_row(repeatability="nan"), "'nan'", "repeatability is not a number"),
        (rule_row(source=" "), "this row", "says where it comes from"),
        (
            '[[setting]]\nkey = "control fresh hours"\nvalue = "long"\nunit = "h"\nsource = "me"',
            "'long'",
            "is not a number",
        ),
        (
            '[[setting]]\nkey = "control fresh hours"\nvalue = "inf"\nunit = "h"\nsource = "me"',
            "'inf'",
            "is not a number",
        ),
        ('[[setting]]\nkey = "fibre saturation"\nvalue = "-1"\nunit = "%"\nsource = "me"', "-1", "0 or more"),
        (
            '[[zone]]\nid = "n"\nwords = "w"\nconstruction = "attic"',
            "'attic'",
            "construction is not described; one of: screed",
        ),
        ('[[spot]]\nid = "n"\nzone = ""\nelement = "e"', "''", "zone is not described; one of: kitchen, utility"),
        (GAS.replace('"kitchen"', '"kitchen", "attic"'), "'attic'", "zone is not described"),
        ('[[visit]]\nid = ""\nbegun_at = "2026-03-02"', "''", "short and printable"),
        ('[[visit]]\nid = "v\\u0007"\nbegun_at = "2026-03-02"', "'v\\x07'", "short and printable"),
        (f'[[visit]]\nid = "{"v" * 41}"\nbegun_at = "2026-03-02"', repr("v" * 41), "1 to 40 letters"),
        (HAZARD, "0", "depth_mm lies above 0"),
        (HAZARD.replace("= 0", '= "ten"'), "'ten'", "depth_mm is not a number"),
        ('[[construction]]\nid = "c"\nwords = "w"\nmaterial = "m"\nbuilt = "c. 1890"', "c. 1890", "four digits"),
        (
            '[[zone]]\nid = "n"\nwords = "w"\nconstruction = "screed"\noutline = ["0,0"]',
            "('0,0',)",
            "corners in metres",
        ),
        (
            '[[setting]]\nkey = "rule"\nvalue = "mine/1"\nunit = ""\nsource = "me"',
            "mine/1",
            "tolerance/1, prediction/1",
        ),
        (
            '[[setting]]\nkey = "weather"\nvalue = "fine"\nunit = ""\nsource = ""',
            "this row",
            "says where it comes from",
        ),
        (
            '[[photo]]\nfile = "missing.png"\nwords = "w"\ntaken_at = "2026-03-02"',
            "missing.png",
            "not beside the sheet",
        ),
        ('[[photo]]\nwords = "w"\ntaken_at = "2026-03-02"', "no file", "not beside the sheet"),
        (
            '[[photo]]\nfile = "../secret.png"\nwords = "w"\ntaken_at = "2026-03-02"',
            "../secret.png",
            "not beside the sheet",
        ),
        ('[[photo]]\nfile = "text.png"\nwords = "w"\ntaken_at = "2026-03-02"', "this row", "not a photo"),
        ('[[instrument]]\nid = "n"\nwords = "w"', "'n'", "at least one scale"),
    ],
)
def test_a_row_that_does_not_fit_is_named_and_the_others_kept(desk: Desk, row: str, got: str, wanted: str) -> None:
    (desk.folder.parent / "secret.png").write_bytes(PNG)
    (desk.folder / "text.png").write_bytes(b"no photo")
    taken = desk.sheet(f'{row}\n[[visit]]\nid = "v9"\nbegun_at = "2026-03-09T09:00"\n')
    assert (taken.rows, taken.kept, len(taken.problems)) == (2, 1, 1)
    problem = taken.problems[0]
    assert (problem.row, problem.column) == (1, row.partition("\n")[0])
    assert problem.got == got
    assert wanted in problem.wanted
    assert [entered.record.id for entered in desk.folded().visits] == ["v9"]


def test_a_negative_altitude_is_a_polder(desk: Desk) -> None:
    assert desk.sheet('[[setting]]\nkey = "altitude"\nvalue = -3\nunit = "m"\nsource = "map"').ok


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("id = ", "not TOML"),
        ('kitchen = "wet"', "lists of tables only"),
        ("[kitchen]\nid = 1", "lists of tables only"),
        ("kitchen = [1, 2]", "lists of tables only"),
        ('[[visit]]\nid = "a"\nid = "b"', "not TOML"),
    ],
)
def test_a_text_that_is_no_sheet(desk: Desk, text: str, said: str) -> None:
    entries = desk.folded().entry_count
    with pytest.raises(NotUnderstood) as refused:
        desk.sheet(text)
    assert said in str(refused.value)
    assert desk.folded().entry_count == entries


def test_a_sheet_with_old_letters() -> None:
    assert read_sheet('[[note]]\nwords = "Küche"\n'.encode("cp1252"))["note"] == [{"words": "Küche"}]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ('zone = "utility"\nelement = "floor"', "zone 'kitchen', is 'utility' now"),
        ('zone = "kitchen"\nelement = "wall"', "element 'floor', is 'wall' now"),
        ('zone = "kitchen"\nelement = "floor"\nrole = "control"', "role 'survey', is 'control' now"),
        ('zone = "kitchen"\nelement = "floor"\nx = "1.2"\ny = "2"', "x '1', is '1.2' now"),
    ],
)
def test_a_spot_is_not_moved_under_its_id(desk: Desk, change: str, said: str) -> None:
    """In the next sheet or in the same one: its readings would move with it. Struck first, it may be described anew."""
    first = '[[spot]]\nid = "s"\nzone = "kitchen"\nelement = "floor"\nx = "1"\ny = "2"\n'
    again = f'[[spot]]\nid = "s"\n{change}\n'
    for taken in (desk.sheet(first + again), desk.sheet(again)):
        assert [problem.got for problem in taken.problems] == [said]
        assert "strike the first description" in taken.problems[0].wanted
    from desorb.service.cases import strike

    strike(desk.store, desk.case, desk.folded().spots[0].entry, why="wrong room", by="R. Marsh")
    assert desk.sheet(again).ok


def test_more_words_about_a_spot_are_welcome(desk: Desk) -> None:
    first = '[[spot]]\nid = "s"\nzone = "kitchen"\nelement = "floor"\n'
    assert desk.sheet(first).ok
    assert desk.sheet(first + 'words = "by the door"\nx = "1"\ny = "2"').ok
    assert desk.folded().spots[-1].record.words == "by the door"


def test_a_sheet_that_is_read_before_the_case_is_opened(desk: Desk) -> None:
    good, bad = desk.folder / "good.toml", desk.folder / "bad.toml"
    good.write_text(GAS, encoding="utf-8")
    bad.write_text("id =", encoding="utf-8")
    read_sheet_file(good)
    with pytest.raises(NotUnderstood, match="not TOML"):
        read_sheet_file(bad)
    with pytest.raises(NotUnderstood, match="could not be read"):
        read_sheet_file(desk.folder / "missing.toml")


def test_places_may_be_described_in_any_order_of_one_sheet(desk: Desk) -> None:
    """The spot stands before its zone, and the zone before its construction."""
    assert desk.sheet(
        """
        [[spot]]
        id = "s"
        zone = "n"
        element = "floor"
        [[zone]]
        id = "n"
        words = "new"
        construction = "c"
        [[construction]]
        id = "c"
        words = "slab"
        material = "concrete"
        built = "2004"
        """
    ).ok
    assert desk.sheet(GAS).ok


def test_what_the_bytes_are() -> None:
    assert media_type_of(PNG) == "image/png"
    assert media_type_of(JPEG) == "image/jpeg"
    with pytest.raises(InputError, match="not a photo"):
        media_type_of(b"GIF89a")


def test_instruments_of_a_sheet() -> None:
    sheet = b"""
[[instrument]]
id = "n1"
words = "new"
[[instrument.scales]]
key = "c"
principle = "capacitance"
claims = "comparative"
bottom = 0
top = 100
resolution = 0.5
"""
    instrument = instruments_of_sheet(sheet)[0]
    assert (instrument.id, instrument.scales[0].resolution) == ("n1", "0.5")
    with pytest.raises(NotUnderstood, match="describes no instrument"):
        instruments_of_sheet(b'[[visit]]\nid = "v"\n')
    with pytest.raises(NotUnderstood, match="instrument lacks words"):
        instruments_of_sheet(b'[[instrument]]\nid = "n1"\n')


def test_an_instrument_in_a_sheet_goes_into_the_register_and_into_the_case(desk: Desk) -> None:
    from desorb.service.instruments import instruments

    desk.sheet(EVERYTHING[EVERYTHING.index("[[instrument]]") : EVERYTHING.index("[[photo]]")])
    assert "n1" in instruments(desk.store)
    assert [entered.record.id for entered in desk.folded().instruments] == ["n1"]
    assert METER.id in instruments(desk.store)


def test_a_time_with_an_offset_keeps_it(desk: Desk) -> None:
    desk.sheet(
        '[[visit]]\nid = "a"\nbegun_at = 2026-07-01T09:00:00-07:00\n[[visit]]\nid = "b"\nbegun_at = "2026-07-01T09:00"'
    )
    assert [entered.record.begun_at for entered in desk.folded().visits] == [
        "2026-07-01T09:00:00-07:00",
        "2026-07-01T09:00:00+01:00",
    ]
    assert datetime.now(UTC).tzinfo is UTC
    assert isinstance(desk.folder, Path)


@pytest.mark.parametrize(
    ("row", "problem"),
    [
        ('[[weighing]]\nsample = "unknown"\nstate = "moist"\nmass = 2\nat = "2026-03-02T10:00"', "this sample is not described"),
        ('[[floor_place]]\ntest = "unknown"\nplace = "h"\nat = "2026-03-02T10:00"', "this floor test is not described"),
        ('[[floor_test]]\nid = "f"\nzone=""\nmethod = "hole"\narea = "large"\nthickness = 9\ndrying_faces = 1\nat = "2026-03-02"',
         "its area is no number"),
        ('[[limit_taken]]\ntest = "f"', "a sheet has no such table"),
    ],
)  # fmt: skip
def test_a_row_of_a_method_that_cannot_be_used_is_named_and_not_kept(desk: Desk, row: str, problem: str) -> None:
    taken = desk.sheet(row)
    assert taken.kept == 0
    assert problem in str(taken.problems[0])


def test_a_floor_place_is_named_by_test_and_place_and_a_wrong_word_is_said_with_its_row(desk: Desk) -> None:
    """What was taken is named as the floor layer knows it; a refusal reads as a sentence and offers no empty word."""
    taken = desk.sheet(
        '[[floor_test]]\nid = "f"\nzone = ""\nmethod = "hole"\narea = 90\nthickness = 150\ndrying_faces = 1\n'
        'at = "2026-03-02T10:00"\n[[floor_place]]\ntest = "f"\nplace = "hole 1"\nat = "2026-03-02T10:00"\n'
        '[[floor_place]]\ntest = "f"\nplace = "hole 2"\nat = "2026-03-02T10:00"\nlined = "maybe"'
    )
    assert taken.described == ["floor-test f", "floor-place f hole 1"]
    assert [str(each) for each in taken.problems] == [
        "row 2 of [[floor_place]]: got maybe: lined is not one of the words used here; yes, no"
    ]
