"""Surfaces alone, at fine cells: held to closed forms, to exact sights, and through the command."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path

import numpy as np
import pytest

from knifecam.cli import main
from knifecam.measure.sample_columns import read_places
from knifecam.report.report_limits import BESIDE_BLADE_MM
from knifecam.report.surface_deviation import blade_surface, surface_deviations
from tests.unit.judge import hand_bevel as hand
from tests.unit.judge.hand_bevel import Pass, figures

UM = 1e-3
DEMO = Path(__file__).parents[3] / "examples/field-knife-230x32.toml"
IDLE = "%\nG21 G90 G17 G94 G54 G40 G49 G80\nT1 M6\nM2\n%\n"


def ball_cusp(step: float, radius: float, angle: float) -> float:
    """Square to the surface, of a corner whose passes lie near each other: a chord's sagitta."""
    return radius - math.sqrt(radius**2 - (step / 2 / math.cos(angle)) ** 2)


def test_cusps_of_both_sides_are_as_the_formula_has_them() -> None:
    with figures(FINISH=0.2):
        order, rows = hand.order(), hand.stage_passes("finish")
        field = blade_surface(order, (hand.finish_only("A", rows), hand.finish_only("B", rows)))
        found = surface_deviations(order, field)
        expected = ball_cusp(rows[1].touch - rows[0].touch, hand.CORNER, hand.ANGLE)
    assert [(one.side, one.name) for one in found] == [("A", "main"), ("B", "main")]
    for one in found:
        plumb = expected / math.cos(hand.ANGLE)
        assert 0.97 * plumb < one.left <= plumb + 0.01 * UM
        assert one.gouged < 0.01 * UM
        assert one.left_line > 0


def test_a_lower_pass_is_told_with_its_line_and_place() -> None:
    order, rows = hand.order(), hand.stage_passes("finish")
    low = [Pass(r.touch, r.y, r.z - (0.004 if k == 30 else 0.0)) for k, r in enumerate(rows)]
    text = hand.finish_only("A", low)
    (one,) = surface_deviations(order, blade_surface(order, (text, None)))
    assert 3.9 * UM < one.gouged <= 4.0 * UM
    assert abs(one.gouged_at[1] - low[30].touch) < hand.FINISH
    heights = re.findall(r"Z(\S+)", "\n".join(text.splitlines()[: one.gouged_line]))
    assert float(heights[-1]) == pytest.approx(
        low[30].z - order.setup.plate.thickness / 2, abs=1e-4
    )


def test_columns_are_what_sights_see() -> None:
    order, rows = hand.order(), hand.stage_passes("finish")
    texts = hand.finish_only("A", rows), hand.finish_only("B", rows)
    field = blade_surface(order, texts, cell=0.04)
    grid = field.grid
    assert grid.x.min() < order.blade.outline.bounds[0] - BESIDE_BLADE_MM / 2
    rng = np.random.default_rng(3)
    i, j = rng.integers(grid.top.shape[0], size=4000), rng.integers(grid.top.shape[1], size=4000)
    seen = read_places(order, field.sides, np.column_stack([grid.x[j], grid.y[i]]))
    stands = seen.thickness > 0
    assert np.count_nonzero(stands & (seen.heights[0] < 1.0)) > 300
    assert np.abs(grid.top[i, j] - seen.heights[0])[stands].max() <= 1e-9
    assert np.abs(grid.bottom[i, j] + seen.heights[1])[stands].max() <= 1e-9
    assert np.array_equal(grid.top[i, j] > grid.bottom[i, j], stands)


@pytest.fixture
def idle(tmp_path: Path) -> str:
    path = tmp_path / "idle.nc"
    path.write_text(IDLE)
    return str(path)


def test_the_command_tells_surfaces_and_judges_nothing(capsys, idle: str) -> None:
    assert main(["check", str(DEMO), idle, "-", "--surfaces", "--cell", "0.2"]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "side A's program does not name its order"
    assert said[1] == "ground surfaces, measured with cells of 0.2 mm; nothing is judged"
    assert len(said) == 3
    assert said[2].startswith("side A, bevel-1: ")
    assert main(["check", str(DEMO), idle, "-", "--surfaces", "--cell", "0.2", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["cell"] == 0.2
    (one,) = told["surfaces"]
    assert one["gouged"] == 0.0
    assert one["left"] > 1.0  # the plate as it was


@pytest.mark.parametrize("more", [["--explain"], ["--misplaced", "0,0,0,0"]])
def test_surfaces_go_with_nothing_that_judges(capsys, idle: str, more: list[str]) -> None:
    assert main(["check", str(DEMO), idle, "-", "--surfaces", *more]) == 2
    assert "--surfaces" in capsys.readouterr().err


@pytest.mark.parametrize("side", ["A", "B"])
def test_a_program_that_cannot_be_read_is_named_by_its_side(capsys, idle: str, side: str) -> None:
    bad = Path(idle).with_name("bad.nc")
    bad.write_text("%\nG21\nX1\nM2\n%\n")
    pair = [str(bad), idle] if side == "A" else [idle, str(bad)]
    assert main(["check", str(DEMO), *pair, "--surfaces", "--cell", "0.5"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert f"line 3: side {side}: axis words" in said.err
