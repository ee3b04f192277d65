"""Profiles of walls: total and hygroscopic moisture over height, one for each vertical line of drilled samples.

Contents: ProfileOfCase and profiles_of_case (figures, for the cause table); profile_shown.
"""

from __future__ import annotations

from dataclasses import dataclass

from desorb.core.case import Case, Entered, latest_by_id
from desorb.core.kinds import Sample, SampleWeighing
from desorb.core.samples.profile import DrilledSample, WallProfile, wall_profile
from desorb.core.samples_of_case.figures import of_sample, plain, said
from desorb.core.samples_of_case.parts import CANNOT_BE_USED
from desorb.core.samples_of_case.weighed import weighed_of
from desorb.core.shown import Line, Plot, Shown, Table
from desorb.core.written import needed, whole
from desorb.errors import DesorbError

PROFILE = "wall profile"
HEIGHTS = ("depth, mm", "height, m", "total, % of dry mass", "hygroscopic at 75 %", "free")


@dataclass(frozen=True, slots=True)
class ProfileOfCase:
    """One vertical line of one zone. profile is None where no sample can be used; left_out: samples, each with its reason."""

    zone: str
    line: str
    profile: WallProfile | None
    left_out: tuple[str, ...]
    problem: tuple[str, str]  # words and next step, '' where there is none
    entries: tuple[str, ...]

    @property
    def entry(self) -> str:
        return ", ".join(self.entries)


def profiles_of_case(case: Case) -> tuple[ProfileOfCase, ...]:
    """One profile for each line of each zone, from samples with a line and a height, as weighed."""
    lines: dict[tuple[str, str], list[Entered[Sample]]] = {}
    for entered in latest_by_id(case.samples).values():
        if entered.record.line:
            lines.setdefault((entered.record.zone, entered.record.line), []).append(entered)
    return tuple(_profile(case, zone, line, found) for (zone, line), found in lines.items())


def _profile(case: Case, zone: str, line: str, samples: list[Entered[Sample]]) -> ProfileOfCase:
    drilled, left_out, entries = [], [], []
    for entered in samples:
        weighings = of_sample(case.weighings, entered.record.id)
        try:
            one = _drilled(entered.record, weighings)
            wall_profile([one])  # refuses figures that cannot be, of this sample alone
        except DesorbError as problem:
            words, step = said(problem)
            left_out.append(f"{entered.record.id}: {words}. Next: {step}.")
            continue
        drilled.append(one)
        entries += [entered.entry, *(each.entry for each in weighings)]
    if not drilled:
        step = "enter height, depth and weighings of the samples of this line"
        return ProfileOfCase(zone, line, None, tuple(left_out), ("No sample of this line can be used", step), ())
    try:
        return ProfileOfCase(zone, line, wall_profile(drilled), tuple(left_out), ("", ""), tuple(entries))
    except DesorbError as problem:
        return ProfileOfCase(zone, line, None, tuple(left_out), said(problem), tuple(entries))


def _drilled(sample: Sample, weighings: list[Entered[SampleWeighing]]) -> DrilledSample:
    weighed = weighed_of(sample, weighings)
    return DrilledSample(
        needed(sample.height, "height"), whole(sample.depth_from, "depth from"), whole(sample.depth_to, "depth to"),
        weighed.total, weighed.hygroscopic, weighed.oven.constant_mass,
    )  # fmt: skip


def profile_shown(found: ProfileOfCase) -> Shown:
    title = f"Wall profile {found.line}: total and hygroscopic moisture over height"
    name = f"{found.zone}/{found.line}"
    profile = found.profile
    if profile is None or not profile.bands:
        words, step = found.problem
        words = words or "No sample of this line was dried to constant mass"
        step = step or "dry on to constant mass and weigh again"
        kept = (*found.left_out, *(profile.left_out if profile else ()))
        words = f"No profile: {words}. No opinion on rising damp."
        return Shown(PROFILE, name, title, found.zone, CANNOT_BE_USED, words, notes=kept, next_steps=(step,),
                     rests_on=found.entries)  # fmt: skip
    rows, plots, words_of, steps = [], [], [], []
    for band in profile.bands:
        depth = f"{band.depth_from} to {band.depth_to} mm"
        total = tuple((plain(point.height), plain(point.total)) for point in band.points)
        held = tuple((plain(p.height), plain(p.hygroscopic)) for p in band.points if p.hygroscopic is not None)
        lines = (Line("total", total), *((Line("hygroscopic at 75 % humidity", held),) if held else ()))
        plots.append(Plot(f"{depth} from the face", "height above floor, m", "moisture, % of dry mass", lines))
        rows += [
            (
                depth,
                plain(p.height),
                plain(p.total),
                *("" if x is None else plain(x) for x in (p.hygroscopic, p.free)),
            )
            for p in band.points
        ]
        rising, _, step = band.rising.partition(" Next: ")
        steps += [f"{depth}: {step}"] if step else []
        words_of.append(f"{depth}: {rising} {band.salts}")
    deepest = profile.bands[-1].rising
    status = deepest.partition(":")[0]
    warnings = tuple(warning for band in profile.bands for warning in band.warnings)
    if found.left_out or profile.left_out:
        steps.append("weigh the samples left out again, or drill them anew")
    return Shown(
        kind=PROFILE, id=name, title=title, zone=found.zone, status=status[0].lower() + status[1:],
        words=" ".join((*words_of, *profile.across)), tables=(Table(HEIGHTS, tuple(rows)),), plots=tuple(plots),
        notes=(*warnings, *(f"Left out: {each}" for each in (*found.left_out, *profile.left_out)), *profile.notes),
        next_steps=tuple(steps) or ("name no cause from the pattern alone: see the cause table",), rests_on=found.entries,
    )  # fmt: skip
