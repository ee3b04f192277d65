"""Commands on the record: report, verify, export, import, remove, back-up, demo."""

from __future__ import annotations

import re
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from desorb.cli import asking
from desorb.cli.asking import opened, opened_case, say, say_json, working
from desorb.cli.case_commands import By, CaseName, Json

if TYPE_CHECKING:
    from desorb.notebook.verify import Verification


def report_command(
    case: CaseName,
    out: Annotated[Path, typer.Option(help="Folder to put the report into.")] = Path(),
    issued_at: Annotated[str, typer.Option(help="Date and time of issue; else now.")] = "",
    paper: Annotated[str, typer.Option(help="a4 or letter")] = "a4",
    by: By = "",
    json: Json = False,
) -> None:
    """Issue a report: PDF for owner and insurer, with JSON and CSV twins. It is kept, and says what it rested on."""
    from desorb.service.cases import load
    from desorb.service.reporting import issue_report, report_states

    with opened_case(case) as (store, found), working("writing the report"):
        report = issue_report(store, found, out, issued_at=issued_at, by=by, paper=paper)
        states = report_states(load(store, found))
    if json:
        parts = {
            "number": report.number,
            "issued_at": report.issued_at,
            "pdf": str(report.pdf),
            "json": str(report.twin),
        }
        parts |= {"csv": [str(path) for path in report.tables], "pdf_sha256": report.pdf_sha256, "entry": report.entry}
        say_json(parts | {"reports": [asdict(state) for state in states]})
        return
    say(f"report {report.number} of {report.issued_at}: {report.pdf}")
    say(f"  twins: {report.twin.name} and {len(report.tables)} CSV tables beside it")
    say(
        f"  SHA-256 {report.pdf_sha256}; {'entry ' + report.entry if report.was_new else 'issued before, nothing added'}"
    )
    for state in states:
        if state.superseded:
            say(
                f"  report {state.number} of {state.at[:10]} is superseded: {state.newer_entries} entries came after it"
            )


def verify_command(
    target: Annotated[str, typer.Argument(help="A case, or the folder of a bag.")],
    head: Annotated[
        list[str] | None, typer.Option(help="A head printed on a report; may be given several times.")
    ] = None,
    json: Json = False,
) -> None:
    """Verify a case or a bag: chains, payloads, receipts, photos, reports. A printed head proves nothing was taken away."""
    from desorb.notebook.verify import verify_bag, verify_store
    from desorb.service.cases import find_case

    heads = tuple(_head(each) for each in head or ())
    folder = Path(target)
    with working("verifying"):
        if (folder / "bagit.txt").exists() or folder.suffix == ".zip":
            verified = verify_bag(folder, heads)
        else:
            with opened() as store:
                verified = verify_store(store, find_case(store, target).id, heads)
    if json:
        say_json({"ok": verified.ok} | asdict(verified))
    else:
        _say_verified(verified)
    if not verified.ok:
        raise typer.Exit(5)


def _head(text: str) -> str:
    """A head as it may stand on paper: alone, or as 'device number hash'. What is no head is refused, not a fault."""
    from desorb.errors import InputError

    printed = re.fullmatch(r"\s*[0-9a-fA-F]{4,}\s+\d+\s+([0-9a-fA-F ]+)", text)
    found = "".join((printed.group(1) if printed and len(text.split()[0]) == 8 else text).split()).lower()
    if len(found) < 12 or re.search(r"[^0-9a-f]", found):
        raise InputError(
            "this is not a head", got=repr(text), wanted="at least 12 of the 64 letters and digits printed as the head",
            next_step="copy it from the page that lists the heads of the record",
        )  # fmt: skip
    return found


def _say_verified(verified: Verification) -> None:
    counts = ", ".join(f"{number} {name}" for name, number in verified.counts.items())
    say(f"{'verified: no fault found' if verified.ok else 'DOES NOT VERIFY'} ({counts})")
    say(*(f"  fault: {words}" for words in verified.faults))
    say(*(f"  note: {words}" for words in verified.notes))
    for anchored in verified.anchored:
        after = (
            f"{anchored.evidence_after} entries with evidence came after it"
            if anchored.superseded
            else "nothing after it"
        )
        say(f"  head {anchored.head[:16]} stands at {anchored.device}/{anchored.n}; {after}")
    for device in verified.not_anchored:
        say(f"  no head was given for device {device}: nothing outside this record vouches for its chain")
    say("It does not prove that a reading is true, nor that a device's clock was right.")


def export_command(
    case: CaseName,
    folder: Annotated[Path, typer.Argument(help="New folder for the bag.")],
    json: Json = False,
) -> None:
    """Export a case as a bag: entries, photos, reports, CSV and JSON, with a verifier that needs only Python."""
    from desorb.service.bags import export_case

    with opened_case(case) as (store, found), working("exporting"):
        written = export_case(store, found, folder)
    say_json({"bag": str(written)}) if json else say(f"bag written: {written}", "check it anywhere: python3 verify.py")


def import_command(
    bag: Annotated[Path, typer.Argument(help="Folder of a bag, or its zip file.")], json: Json = False
) -> None:
    """Import a bag. It must verify first; entries that are here already are not added again."""
    from desorb.service.bags import import_case

    with opened() as store, working("importing"):
        outcome = import_case(store, bag)
    if json:
        say_json(outcome)
        return
    say(f"case {outcome['case']}: {outcome['accepted']} entries added, {outcome['known']} known already")
    for name, reason in outcome["set_aside"]:
        say(f"  set aside {name}: {reason}")


def remove_command(
    case: CaseName,
    entry: Annotated[str, typer.Argument(help="The entry as printed (device/number) or its hash.")],
    why: Annotated[str, typer.Option(help="Why it is removed.")],
    authority: Annotated[str, typer.Option(help="On whose authority.")],
    by: Annotated[str, typer.Option(help="Who removes it.")],
    confirmed: Annotated[bool, typer.Option("--yes-remove-for-good", help="The second step.")] = False,
    json: Json = False,
) -> None:
    """Remove the content of an entry for good, where the law asks for it. The chain stays whole and says so."""
    from desorb.service import cases

    with opened_case(case) as (store, found):
        files = cases.files_holding(store, found, entry)
        reports = cases.reports_holding(store, found, entry)
        removal = cases.remove(store, found, entry, why=why, authority=authority, by=by, confirmed=confirmed)
    if json:
        say_json({"removal": removal.name, "files_that_still_hold_it": files, "reports_dropped": reports})
        return
    say(f"entry {entry} removed by {removal.name}; what rested on it cannot be said")
    if files:
        say(f"the table it was taken from is kept as entry {', '.join(files)}: remove that too if it must go")
    if reports:
        say(f"the kept PDFs of report {', '.join(map(str, reports))} may show it and were dropped; their entries stay")
    say("bags exported before, backups and printed reports may still hold it: they are outside this store")


def back_up_command(file: Annotated[Path, typer.Argument(help="New file for the copy.")], json: Json = False) -> None:
    """Copy the database consistently while others write. (A plain copy of the file can lose the last entries.)"""
    with opened() as store:
        store.back_up(file)
    if json:
        say_json({"copy": str(file)})
        return
    say(f"copied to {file}; photos and reports stand in the folder 'originals' of the store and are copied as files")


def demo_command(
    out: Annotated[Path, typer.Option(help="Folder for the report and the bag.")] = Path("demo-output"),
    json: Json = False,
) -> None:
    """Build the invented demonstration case in a store of its own, assess it, report it, export it and verify it."""
    from desorb.service.demo import run_demo

    with working("building the demonstration case"):
        shown = run_demo(out, asking.chosen_home)
    if json:
        say_json(shown.as_object())
        return
    from desorb.cli.surveying import assess_command

    asking.chosen_home = str(shown.home)
    assess_command(shown.case)
    say("", f"report: {shown.pdf}", f"bag:    {shown.bag} (verified, and imported again with the same assessments)")
    say(f"store:  {shown.home} (look around with: desorb --home {shown.home} next {shown.case})")


COMMANDS = (
    report_command,
    verify_command,
    export_command,
    import_command,
    remove_command,
    back_up_command,
    demo_command,
)
