"""Bores met from both sides: how far do they disagree, and what does a wrong flip do to them?

.venv/bin/python examples/matched_bores.py
"""

import sys
from dataclasses import replace

import knifecam as kc
from knifecam.curve import rectangle

thickness = 5.0
measured = tuple((x, y, thickness) for x in (-20, 120) for y in (-15, 45))
plate = kc.Plate(length=150, width=70, thickness=thickness, corner=(-25, -20), measured=measured)
places = [(15.0, 15.0), (50.0, 12.0), (85.0, 15.0)]
bores = tuple(
    kc.Bore(name=f"B{n}", centre=place, diameter=6.0, both_sides=True)
    for n, place in enumerate(places, start=1)
)
outline = rectangle(0, 0, 100, 30)
cutter = kc.Cutter(
    number=1, kind="flat", diameter=4.0, flutes=4, flute_length=8.0, neck=3.9, reach=12.0,
    shank=6.0, stickout=26.0,
)  # fmt: skip


def cutting(stage: str, **changes: float) -> kc.Cutting:
    plain = {"spindle": 4800.0, "feed": 260.0, "stepdown": 0.1, "stepover": 1.2, "life": 240.0}
    return kc.Cutting(cutter=1, stage=stage, **(plain | changes))


order = kc.Order(
    name="bored bar 100x30",
    blade=kc.Blade(outline=outline, thickness=thickness, bores=bores),
    setup=kc.Setup(plate=plate, mill=kc.Mill(), flip="Y", datum=(plate.corner, plate.corner)),
    cutters=(cutter,),
    cutting=(cutting("bore"), cutting("rough", allowance=0.08), cutting("finish", stepdown=5.0)),
    tabs=kc.Tabs(count=4, waist=1.8, thickness=0.55),
    trench=kc.Trench(depth_a=2.5, overlap=0.2, width=5.0, border=12.0),
)

made = kc.make(order)
print("proved" if made.verdict.ok else "not proved")
for finding in made.verdict.findings:
    print(finding.kind, finding.message)
for bore in made.verdict.measures["bores"]:
    print(f"{bore['name']}: A {bore['diameter_a']:.4f}, B {bore['diameter_b']:.4f} mm,", end=" ")
    print(f"they disagree by {bore['mismatch'] * 1000:.2f} um")

# the plate put down 0.05 mm off along Y on side B: the texts are right for another datum
datum = (order.setup.datum[0], (plate.corner[0], plate.corner[1] + 0.05))
moved = replace(order, setup=replace(order.setup, datum=datum))
a, b = made.programs
verdict = kc.check(moved, (a.text, b.text)).verdict
print("0.05 mm off:", ", ".join(sorted({f.kind for f in verdict.findings})))
sys.exit(0 if made.verdict.ok and not verdict.ok else 1)
