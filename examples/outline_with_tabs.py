"""An outline held by two tabs, built in Python: plan, programs, verdict.

.venv/bin/python examples/outline_with_tabs.py [FOLDER]
"""

import sys
from pathlib import Path

import numpy as np

import knifecam as kc

# a marking knife of 120 x 18 mm: lines and arcs, counter-clockwise; bulge = tan of a quarter angle
places = [(0, 4), (4, 0), (78, 0), (116, 13), (112, 18), (4, 18), (0, 14)]
bulges = [np.tan(np.pi / 8), 0, 0.09, 0.62, 0, np.tan(np.pi / 8), 0]
outline = kc.Curve(np.array(places, float), np.array(bulges))

thickness = 2.5
measured = tuple((x, y, thickness) for x in (-15, 135) for y in (-16, 34))
plate = kc.Plate(length=160, width=60, thickness=thickness, corner=(-20, -21), measured=measured)
cutters = [
    kc.Cutter(
        number=number, kind="bull-nose", diameter=2.0, corner=0.1, flutes=4, flute_length=4.0,
        neck=1.9, reach=8.0, shank=4.0, stickout=20.0,
    )
    for number in (1, 2)
]  # fmt: skip
rough = kc.Cutting(
    cutter=1, stage="rough", spindle=9500, feed=300, stepdown=0.05, stepover=0.8,
    allowance=0.04, life=90,
)  # fmt: skip
finish = kc.Cutting(
    cutter=2, stage="finish", spindle=13500, feed=380, stepdown=3.0, stepover=0.04, life=60
)
order = kc.Order(
    name="marking knife 120x18",
    blade=kc.Blade(outline=outline, thickness=thickness),
    setup=kc.Setup(plate=plate, mill=kc.Mill(), datum=(plate.corner, plate.corner)),
    cutters=tuple(cutters),
    cutting=(rough, finish),
    tabs=kc.Tabs(count=2, waist=1.3, thickness=0.35),
    trench=kc.Trench(depth_a=0.6, overlap=0.3, width=2.6),
)

made = kc.make(order)
for tab in made.plan.tabs:
    print(f"tab at {tab.place[0]:6.2f}, {tab.place[1]:5.2f}: stub {tab.stub:.2f} mm to grind")
for seen in made.verdict.measures["tabs"]:
    print(f"as cut: {seen['thickness'][0]:.4f} mm thick, waist {seen['waist']:.3f} mm")
for finding in made.verdict.findings:
    print(finding.kind, finding.message)
print("proved" if made.verdict.ok else "not proved")
if len(sys.argv) > 1 and made.verdict.ok:
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for program in made.programs:
        (folder / f"marking-knife-{program.side.lower()}.nc").write_text(program.text)
sys.exit(0 if made.verdict.ok else 1)
