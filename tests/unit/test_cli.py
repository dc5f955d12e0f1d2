"""The command line: exit status, what it says, and what it leaves in the folder."""

import json
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from types import SimpleNamespace

import ezdxf
import pytest

from knifecam.cli import OF_BEVELS, PRODUCTS, PROGRAMS, UNPROVED, main
from knifecam.errors import OrderError
from knifecam.simulator.verdict import Finding, Verdict

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "examples/field-knife-230x32.toml"
DRAWING = ROOT / "examples/field-knife-230x32.dxf"
PROVED = Verdict()
FOUND = Verdict(findings=(Finding(kind="tab", side="B", line=3, message="thin"),))


@pytest.fixture
def made(monkeypatch):
    """Return a function that lets `make` end at once with a verdict, or an error."""

    def let(result, *, offsets=None):
        def make(order, *, cell, before_judging):
            if isinstance(result, BaseException):
                raise result
            return SimpleNamespace(
                verdict=result, judged=None, align="(align)\n", offsets=offsets, notes=(),
                order=order,
                programs=(SimpleNamespace(text="(A)\n"), SimpleNamespace(text="(B)\n")),
            )  # fmt: skip

        monkeypatch.setattr(import_module("knifecam.making"), "make", make)
        for picture in (
            "picture.picture", "picture_deviation.deviation_picture",
            "picture_sections.sections_picture",
        ):  # fmt: skip
            monkeypatch.setattr(
                f"knifecam.simulator.{picture}", lambda *given: given[-1].write_bytes(b"")
            )

    return let


def run(folder, *more):
    return main(["make", str(DEMO), "--out", str(folder), "--json", *more])


def names(folder):
    return {p.name for p in folder.iterdir()}


ALWAYS = {"verdict.json", "plate.png", *OF_BEVELS}


def test_what_does_not_belong_to_this_order_goes(made, tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    made(PROVED, offsets="(offsets)\n")
    assert run(tmp_path) == 0
    assert names(tmp_path) == {*PROGRAMS, *ALWAYS, "notes.txt"}
    made(FOUND)
    assert run(tmp_path) == 1
    assert names(tmp_path) == {*ALWAYS, "notes.txt"}
    assert run(tmp_path, "--unproved") == 1
    assert names(tmp_path) == {*UNPROVED, *ALWAYS, "notes.txt"}
    made(PROVED)
    assert run(tmp_path) == 0
    assert names(tmp_path) == {*PROGRAMS[:3], *ALWAYS, "notes.txt"}


def test_a_refusal_takes_an_earlier_orders_programs_away(made, tmp_path, capsys):
    made(PROVED)
    run(tmp_path)
    made(OrderError("no"))
    assert run(tmp_path) == 2
    assert names(tmp_path) == set()
    assert "since an earlier order made them: side-a.ngc, side-b.ngc" in capsys.readouterr().err


def test_a_refusal_leaves_a_folder_alone_that_make_has_not_written(made, tmp_path):
    for name in PRODUCTS:
        (tmp_path / name).write_text("{}")
    made(OrderError("no"))
    assert run(tmp_path) == 2
    assert names(tmp_path) == set(PRODUCTS)


def test_stopped_by_hand_nothing_is_half_written(made, tmp_path, capsys):
    made(PROVED)
    run(tmp_path)
    before = {name: (tmp_path / name).read_bytes() for name in names(tmp_path)}
    made(KeyboardInterrupt())
    assert run(tmp_path) == 130
    assert capsys.readouterr().err == "stopped by hand: nothing was written, nothing changed\n"
    assert {name: (tmp_path / name).read_bytes() for name in names(tmp_path)} == before


def test_a_folder_that_is_a_file_is_refused_before_any_work(tmp_path, capsys):
    (tmp_path / "made").write_text("")
    assert run(tmp_path / "made") == 2
    said = json.loads(capsys.readouterr().out)["refused"]
    assert said == [f"--out={tmp_path / 'made'}: {tmp_path / 'made'} is a file, not a folder;"
                    " name another folder"]  # fmt: skip


@pytest.mark.parametrize("name", ["seen.doc", "nowhere/seen.png"])
def test_a_picture_that_cannot_be_drawn_is_refused_plainly(tmp_path, capsys, name):
    assert main(["look", str(DRAWING), "--picture", str(tmp_path / name)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("refused: picture '")
    assert list(tmp_path.iterdir()) == []


def outlines(path, *, open_one=False):
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    first = [(0, 0), (100, 0), (90, 20), (0, 20)]
    space.add_lwpolyline(first, close=not open_one, dxfattribs={"layer": "ONE"})
    if not open_one:
        second = [(0, 40), (100, 40), (100, 60)]
        space.add_lwpolyline(second, close=True, dxfattribs={"layer": "TWO"})
    document.saveas(path)
    return str(path)


def test_two_outlines_are_not_clear_until_one_is_named(tmp_path, capsys):
    two = outlines(tmp_path / "two.dxf")
    assert main(["look", two]) == 2
    said = capsys.readouterr().out
    assert "part: not clear" in said
    assert "which is the outline? name the outline's layer; candidates:" in said
    assert "layer 'ONE'" in said
    assert "layer 'TWO'" in said
    assert main(["look", two, "--outline", "ONE"]) == 0
    assert "part: outline 100 x 20 mm" in capsys.readouterr().out


def test_an_open_outline_is_not_clear(tmp_path, capsys):
    path = outlines(tmp_path / "open.dxf", open_one=True)
    assert main(["look", path]) == 2
    assert "ends 20 mm apart" in capsys.readouterr().out
    assert main(["look", path, "--outline", "ONE"]) == 2
    assert main(["look", path, "--json"]) == 2


def test_a_clear_drawing_is_seen_as_clear(capsys):
    assert main(["look", str(DRAWING)]) == 0
    assert "part: outline 230 x 32 mm" in capsys.readouterr().out


def test_the_version_is_told(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert ended.value.code == 0
    assert capsys.readouterr().out == "knifecam 0.1.0\n"


def test_a_reader_that_closes_early_is_no_traceback():
    command = f"{sys.executable} -m knifecam look {DRAWING} | true"
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, cwd=ROOT)
    assert "Traceback" not in done.stderr
    assert "refused" not in done.stderr
