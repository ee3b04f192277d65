"""Lesson 1: one wet floor, from Python. Invented readings; run with `python examples/01_one_wet_floor.py`.

Three sound places of the same construction are the control. One place in the kitchen is compared with them.
"""

import tempfile
from pathlib import Path

import desorb
from desorb.core.kinds import Construction, Zone

METER = desorb.Instrument(
    id="m1",
    words="surface meter, invented",
    scales=(
        desorb.Scale(
            "comparative", principle="capacitance", claims="comparative", bottom="0", top="100", resolution="1",
            repeatability="1",
        ),
    ),
)  # fmt: skip
SWEEP = [("u1", "utility", "18"), ("u2", "utility", "16"), ("u3", "utility", "19"), ("k1", "kitchen", "54 55 53")]


def main() -> None:
    with tempfile.TemporaryDirectory() as folder, desorb.open_store(Path(folder) / "store") as store:
        desorb.describe_instrument(store, METER)
        case = desorb.open_case(store, "lesson-1", site="invented", time_zone="Europe/London", invented=True)
        slab = Construction("slab", "1996 slab with floating screed", "cement screed", "1996")
        desorb.write(
            store, case, [slab, Zone("kitchen", "kitchen", "slab", affected="yes"), Zone("utility", "utility", "slab")]
        )
        rows = [
            {
                "visit": "v1", "taken_at": f"2026-03-02T10:0{number}", "spot": spot, "zone": zone, "element": "floor",
                "role": "control" if zone == "utility" else "survey", "instrument": "m1", "scale": "comparative",
                "scale_shown": "comparative" if number == 0 else "", "value": value, "covering": "bare",
            }
            for number, (spot, zone, value) in enumerate(SWEEP)
        ]  # fmt: skip
        desorb.take_readings(store, case, rows, by="a surveyor")
        _, assessed = desorb.assess_case(store, case)
        for each in assessed.all:
            print(f"{each.id}: {each.status}. {each.reasons[0]}")


if __name__ == "__main__":
    main()
