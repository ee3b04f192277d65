"""service/take.py: files taken once, twice, corrected, in two stores; good rows kept, bad rows named."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from case_builder import METER, Desk, clock

from desorb.errors import NotUnderstood
from desorb.notebook.fold import fold
from desorb.service.cases import strike
from desorb.service.take import take_file

HEAD = "id,spot,zone,element,value,scale,instrument,covering,visit,taken_at\n"
ONE = "r1,k1,kitchen,floor,54,comparative,m1,bare,v1,2026-03-02T10:00\n"
TWO = "r2,k2,kitchen,floor,55,comparative,m1,bare,v1,2026-03-02T10:01\n"
NAMELESS = (HEAD + ONE + TWO).replace("r1,", ",").replace("r2,", ",")


def readings(desk: Desk) -> list[tuple[str, ...]]:
    return [(entered.record.spot, *entered.record.values) for entered in desk.folded().readings]


def test_taking_a_file_twice_adds_nothing(desk: Desk) -> None:
    for text in (HEAD + ONE + TWO, NAMELESS):
        first = desk.table(text)
        entries = desk.folded().entry_count
        again = desk.table(text)
        assert (first.kept, again.kept, again.known, again.ok) == (2, 0, 2, True)
        assert desk.folded().entry_count == entries


@pytest.mark.parametrize(
    "text",
    [
        HEAD + TWO + ONE,
        (HEAD + ONE + TWO).replace(",", ";"),
        (HEAD + ONE + TWO).replace("\n", "\r\n"),
        HEAD + ONE + "\n\n" + TWO,
        (HEAD + ONE + TWO).replace("id,", "id,weather,").replace("r1,", "r1,rain,").replace("r2,", "r2,sun,"),
    ],
)
def test_the_same_rows_in_another_dress_are_known(desk: Desk, text: str) -> None:
    desk.table(HEAD + ONE + TWO)
    desk.table(NAMELESS)
    assert desk.table(text).known == 2
    without_ids = text.replace("r1", "").replace("r2", "")
    assert desk.table(without_ids).known == 2


def test_equal_rows_without_an_id_are_counted(desk: Desk) -> None:
    """Two presses at one spot in one minute are two rows; the same file again is still two; with a third there are three."""
    row = ONE.replace("r1,", ",")
    assert desk.table(HEAD + row + row).kept == 2
    assert desk.table(HEAD + row + row).known == 2
    assert desk.table(HEAD + row + row + row).kept == 1


def test_one_bad_row_does_not_spoil_the_file(desk: Desk) -> None:
    """Row 3 names a covering that does not exist, row 5 has a comma too many; 2 and 4 are taken, both faults are named."""
    text = HEAD + ONE + TWO.replace("bare", "lino") + TWO.replace("r2,k2", "r3,k3") + TWO.replace("55", "5,5")
    taken = desk.table(text)
    assert (taken.rows, taken.kept, taken.ok) == (4, 2, False)
    assert [(problem.row, problem.column) for problem in taken.problems] == [(3, "covering"), (5, "(the whole row)")]
    assert readings(desk) == [("k1", "54"), ("k3", "55")]
    note = desk.folded().files[-1].record
    assert (note.rows, note.kept, len(note.problems)) == (4, 2, 2)
    assert note.problems[0].startswith("row 3, column covering: got 'lino'; wanted one of: bare")


def test_the_file_itself_is_kept_under_its_hash(desk: Desk) -> None:
    desk.table(HEAD + ONE, name="kitchen.csv")
    note = desk.folded().files[-1].record
    assert note.name == "kitchen.csv"
    assert desk.store.attachment(note.sha256) == (HEAD + ONE).encode()


def test_the_same_id_twice_in_one_file(desk: Desk) -> None:
    """With the same content it is one row written twice; with other content it is a fault, and the first row stands."""
    assert desk.table(HEAD + ONE + ONE).kept == 1
    taken = desk.table(HEAD + TWO + TWO.replace("55", "56"))
    assert [(problem.row, problem.column, problem.got) for problem in taken.problems] == [(3, "id", "'r2'")]
    assert readings(desk) == [("k1", "54"), ("k2", "55")]


def test_a_second_row_of_a_used_id_describes_nothing(desk: Desk) -> None:
    taken = desk.table(HEAD + ONE + ONE.replace("k1", "k9").replace("v1", "v9"))
    assert not taken.ok
    assert [entered.record.id for entered in desk.folded().spots] == ["k1"]
    assert [entered.record.id for entered in desk.folded().visits] == ["v1"]


# -- corrections ------------------------------------------------------------------------------------------------------


def test_a_changed_row_is_a_correction_to_be_confirmed(desk: Desk) -> None:
    """45 was typed for 54: the row with the same id and another value is reported; nothing changes until it is confirmed."""
    desk.table(HEAD + ONE.replace("54", "45"))
    taken = desk.table(HEAD + ONE)
    assert (taken.kept, taken.ok) == (0, False)
    assert taken.corrections == ["row 2 (reading:id:r1): was values '45', is '54' now"]
    assert readings(desk) == [("k1", "45")]
    confirmed = desk.table(HEAD + ONE, confirm_corrections="misread, photo 12", by="R. Marsh")
    assert (confirmed.kept, confirmed.ok) == (1, True)
    assert readings(desk) == [("k1", "54")]
    outcome = desk.folded().struck[0]
    assert (outcome.struck.record.values, outcome.strike.record.why, outcome.strike.record.by) == (
        ("45",),
        "misread, photo 12",
        "R. Marsh",
    )
    assert desk.table(HEAD + ONE).known == 1
    assert desk.table(HEAD + ONE.replace("54", "45")).known == 1  # the struck row does not come back


def test_every_changed_column_is_named(desk: Desk) -> None:
    desk.table(HEAD + ONE)
    changed = ONE.replace("bare", "paint").replace("10:00", "11:00")
    words = desk.table(HEAD + changed).corrections[0]
    assert "covering 'bare', is 'paint' now" in words
    assert "taken_at '2026-03-02T10:00:00+00:00', is '2026-03-02T11:00:00+00:00' now" in words


def test_an_unconfirmed_correction_describes_nothing(desk: Desk) -> None:
    desk.table(HEAD + ONE)
    entries = desk.folded().entry_count
    desk.table(HEAD + ONE.replace("k1", "k8").replace("v1", "v8"), name="same.csv")
    folded = desk.folded()
    assert ([e.record.id for e in folded.spots], [e.record.id for e in folded.visits]) == (["k1"], ["v1"])
    assert folded.entry_count == entries + 1  # that a file was taken, and nothing else


def test_a_note_that_gets_its_context_becomes_a_reading(desk: Desk) -> None:
    desk.table(HEAD + ONE.replace("bare", ""))
    assert desk.table(HEAD + ONE).corrections == ["row 2 (reading:id:r1): was a note, is a reading now"]
    assert desk.table(HEAD + ONE, confirm_corrections="covering looked up").kept == 1
    assert readings(desk) == [("k1", "54")]
    assert desk.folded().notes == ()


def test_a_struck_row_may_be_written_again_with_another_value(desk: Desk) -> None:
    desk.table(HEAD + ONE)
    strike(desk.store, desk.case, desk.folded().readings[0].entry, why="wrong spot", by="R. Marsh")
    assert desk.table(HEAD + ONE).known == 1
    assert readings(desk) == []
    assert desk.table(HEAD + ONE.replace("54", "18")).kept == 1
    assert readings(desk) == [("k1", "18")]


# -- two stores -------------------------------------------------------------------------------------------------------


def test_the_same_file_taken_at_two_desks_counts_once(desk: Desk, tmp_path: Path) -> None:
    """Two phones take the surveyor's file into the same case; when their entries meet, each row counts once."""
    from desorb.notebook.store import Store
    from desorb.service.cases import find_case

    desk.line("utility/floor", "18", day="2026-03-02", role="control")  # brings the meter into the case
    with Store(tmp_path / "other") as other:
        other.receive(desk.store.entries(desk.case.id))
        case = find_case(other, "book")
        path = tmp_path / "visit.csv"
        path.write_text(HEAD + ONE + TWO, encoding="utf-8")
        assert take_file(desk.store, desk.case, path, clock=clock).kept == 2
        assert take_file(other, case, path, clock=clock).kept == 2
        merged = fold([*desk.store.entries(case.id), *other.entries(case.id)], {})
        assert [entered.record.spot for entered in merged.readings] == ["utility.c1", "k1", "k2"]
        assert len(merged.repeated_rows) == 2
        assert merged.changed_rows == ()
        desk.store.receive(other.entries(case.id))
        assert readings(desk) == [("utility.c1", "18"), ("k1", "54"), ("k2", "55")]
        assert take_file(desk.store, desk.case, path, clock=clock).known == 2


# -- doors ------------------------------------------------------------------------------------------------------------


def test_rows_from_python_are_the_same_rows(desk: Desk) -> None:
    cells = dict(zip(HEAD.strip().split(","), ONE.strip().split(","), strict=True))
    assert desk.table(HEAD + ONE).kept == 1
    taken = desk.rows(cells)
    assert (taken.known, taken.kind) == (1, "reading")
    assert desk.rows(cells | {"id": "", "value": 54}).kept == 1  # type: ignore[dict-item]
    assert desk.folded().readings[-1].record.source == "python, row 1"


def test_air_tables_are_known_by_their_columns(desk: Desk) -> None:
    head = "place,kind,visit,taken_at,instrument,temperature_degC,Relative_Humidity\n"
    row = 'garden,outside,v1,2026-03-02T09:30,h1,"8,0",82\n'
    taken = desk.table(head + row)
    assert (taken.kind, taken.kept) == ("air", 1)
    assert desk.table((head + row).replace(",", ";").replace('"8;0"', "8,0")).known == 1
    assert desk.air_rows({"place": "x"}).problems[0].column == "taken_at"


def test_taking_a_file_again_under_another_name_changes_nothing(desk: Desk) -> None:
    """The row does not say who read: whoever takes the file a second time does not become the reader."""
    desk.table(HEAD + ONE, by="R. Marsh")
    assert desk.table(HEAD + ONE, by="N. Ferrow").known == 1
    assert desk.table(HEAD + ONE.replace("54", "45"), by="N. Ferrow").corrections == [
        "row 2 (reading:id:r1): was values '54', is '45' now"
    ]
    said = (HEAD + ONE).replace("id,", "id,by,").replace("r1,", "r1,N. Ferrow,")
    assert desk.table(said).corrections == ["row 2 (reading:id:r1): was by 'R. Marsh', is 'N. Ferrow' now"]


def test_notes_without_an_identity_stand_beside_rows(desk: Desk) -> None:
    desk.sheet('[[note]]\nwords = "remember the key"\nat = "2026-03-02"')
    assert desk.table(HEAD + ONE).kept == 1


def test_who_took_the_file_is_who_read_unless_the_row_says_so(desk: Desk) -> None:
    desk.table(
        HEAD.replace("id,", "id,by,") + ONE.replace("r1,", "r1,N. Ferrow,") + TWO.replace("r2,", "r2,,"), by="R. Marsh"
    )
    assert [entered.record.by for entered in desk.folded().readings] == ["N. Ferrow", "R. Marsh"]


def test_a_file_that_is_not_there(desk: Desk, tmp_path: Path) -> None:
    with pytest.raises(NotUnderstood, match="could not be read"):
        take_file(desk.store, desk.case, tmp_path / "missing.csv")


def test_a_file_that_cannot_be_read_changes_nothing(desk: Desk) -> None:
    entries = desk.folded().entry_count
    for content in (b"", b"spot,value\n\x00", b"a,b\n1,2\n", (HEAD + ONE + '"').encode()):
        with pytest.raises(NotUnderstood):
            desk.table(content)
    assert desk.folded().entry_count == entries


def test_old_letters_and_short_rows_are_said(desk: Desk) -> None:
    text = HEAD.replace("taken_at", "taken_at,note") + ONE.replace("10:00\n", "10:00,Küche\n") + TWO
    taken = desk.table(text.encode("cp1252"))
    assert taken.kept == 2
    assert taken.assumed[0].startswith("the file is not UTF-8")
    assert taken.assumed[1].startswith("rows with fewer cells than the first row: 3")


def test_a_sheet_goes_through_the_same_door(desk: Desk) -> None:
    taken = desk.sheet('[[visit]]\nid = "v9"\nbegun_at = "2026-03-09T09:00"')
    assert (taken.kind, taken.rows, taken.kept, taken.described) == ("sheet", 1, 1, ["visit v9"])
    assert desk.folded().files[-1].record.name.endswith(".toml")


def test_a_correction_names_tuples_as_they_were_typed(desk: Desk) -> None:
    desk.table(HEAD + ONE.replace("54", "54 55 56"))
    assert "was values '54 55 56', is '54' now" in desk.table(HEAD + ONE).corrections[0]
    assert replace(METER, id="x").id == "x"
