"""Pictures are drawn alike whatever the machine's settings, and names as they are written."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np

from knifecam.report.plate_picture import beside

ROOT = Path(__file__).parents[2]
DRAW = """
import sys
from knifecam.sheet import plainly

@plainly
def draw():
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure()
    FigureCanvasAgg(figure)
    figure.text(0.1, 0.5, {name!r})
    figure.savefig(sys.argv[1], format="png", metadata={{"Software": ""}})

draw()
"""


def drawn(folder, name, settings="", **environment):
    (folder / "matplotlibrc").write_text(settings)
    done = subprocess.run(
        [sys.executable, "-c", DRAW.format(name=name), str(folder / "a.png")],
        cwd=ROOT, capture_output=True, text=True,
        env=os.environ | {"MATPLOTLIBRC": str(folder / "matplotlibrc")} | environment,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return (folder / "a.png").read_bytes()


def test_settings_of_the_machine_change_nothing(tmp_path):
    usual = drawn(tmp_path, "pin")
    assert drawn(tmp_path, "pin", "font.size: 30\nfigure.dpi: 20\n") == usual
    assert drawn(tmp_path, "pin", MPLBACKEND="bogus") == usual


def test_a_name_is_no_formula(tmp_path):
    assert drawn(tmp_path, "a$_^{$b") != drawn(tmp_path, "ab")
    drawn(tmp_path, "$x$ \u6f22")


def test_places_beside_a_mark_go_round_it():
    places = np.array(beside(np.array([3.0, 4.0]), 1.0)) - (3.0, 4.0)
    assert np.allclose(places[0], (1.0, 1.0))
    assert len({tuple(p) for p in places.round(9)}) == len(places)
    assert np.all(np.diff(np.hypot(*places.T)) > -1e-9)
