"""The command line: exit status, what it says, and what it leaves in the folder."""

import hashlib
import json
import os
import re
import signal
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from types import SimpleNamespace

import ezdxf
import pytest

from knifecam.cli import OF_BEVELS, PRODUCTS, PROGRAMS, UNPROVED_FILES, _text, main
from knifecam.errors import OrderError
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, Verdict

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "examples/field-knife-230x32.toml"
DRAWING = ROOT / "examples/field-knife-230x32.dxf"
PROVED = Verdict()
FOUND = Verdict(findings=(Finding(kind=Kind.TAB, side="B", line=3, message="thin"),))


@pytest.fixture
def made(monkeypatch):
    """Return a function that lets `make` end at once with a verdict, or an error."""

    def let(result, *, offsets=None):
        def make(order, *, cell):
            if isinstance(result, BaseException):
                raise result
            return SimpleNamespace(
                verdict=result,
                judged=None,
                align="(align)\n",
                offsets=offsets,
                notes=(),
                order=order,
                programs=(SimpleNamespace(text="(A)\n"), SimpleNamespace(text="(B)\n")),
            )

        monkeypatch.setattr(import_module("knifecam.making"), "make", make)
        for picture in (
            "knifecam.report.plate_picture.picture",
            "knifecam.report.deviation_picture.deviation_picture",
            "knifecam.report.section_picture.sections_picture",
        ):
            monkeypatch.setattr(picture, lambda *given: given[-1].write_bytes(b""))

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
    assert names(tmp_path) == {*UNPROVED_FILES, *ALWAYS, "notes.txt"}
    made(PROVED)
    assert run(tmp_path) == 0
    assert names(tmp_path) == {*PROGRAMS[:3], *ALWAYS, "notes.txt"}


def test_a_refusal_takes_an_earlier_orders_programs_away(made, tmp_path, capsys):
    made(PROVED)
    run(tmp_path)
    made(OrderError("no"))
    assert run(tmp_path) == 2
    assert names(tmp_path) == set()
    assert "left by an earlier order: side-a.nc, side-b.nc" in capsys.readouterr().err


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
    assert capsys.readouterr().err == "stopped: nothing was written, nothing changed\n"
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
    assert (
        "which is the outline? name the outline's layer, outline='ONE' or outline='TWO'; " in said
    )
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


def kept(folder):
    return {name: (folder / name).read_bytes() for name in names(folder)}


UNREADABLE = {
    "not TOML": lambda at: (at / "order.toml").write_text("name = knife\n"),
    "a key misspelled": lambda at: (at / "order.toml").write_text(
        DEMO.read_text().replace("[plate]", "[plates]")
    ),
    "a drawing that is not there": lambda at: (at / "order.toml").write_text(
        DEMO.read_text().replace("field-knife-230x32.dxf", "field-knife.dxf")
    ),
    "a drawing for an order": lambda at: (at / "order.toml").write_bytes(DRAWING.read_bytes()),
    "a folder": lambda at: (at / "order.toml").mkdir(),
    "nothing there": lambda at: None,
}


@pytest.mark.parametrize("what", UNREADABLE)
def test_an_order_that_cannot_be_read_leaves_an_earlier_set_alone(made, tmp_path, what):
    made(PROVED)
    run(tmp_path / "good")
    before = kept(tmp_path / "good")
    (tmp_path / "typed").mkdir()
    UNREADABLE[what](tmp_path / "typed")
    typed = str(tmp_path / "typed/order.toml")
    assert main(["make", typed, "--out", str(tmp_path / "good")]) == 2
    assert kept(tmp_path / "good") == before


@pytest.mark.parametrize("more", [["--cell=5"], ["--cell=nan"], ["--cell=0.001"]])
def test_an_option_that_cannot_be_read_leaves_an_earlier_set_alone(made, tmp_path, more):
    made(PROVED)
    run(tmp_path)
    before = kept(tmp_path)
    made(OrderError("no"))
    assert run(tmp_path, *more) == 2
    assert kept(tmp_path) == before


def test_cells_that_do_not_fit_into_memory_leave_an_earlier_set_alone(made, tmp_path, monkeypatch):
    made(PROVED)
    run(tmp_path)
    before = kept(tmp_path)
    monkeypatch.setattr("knifecam.sweep.columns.usable_memory", lambda: 1e9)
    made(OrderError("planned"))
    assert run(tmp_path, "--cell=0.01") == 2
    assert kept(tmp_path) == before


def test_an_order_read_as_a_whole_and_refused_takes_an_earlier_set_away(made, tmp_path, capsys):
    made(PROVED)
    run(tmp_path / "good")
    text = DEMO.read_text().replace("field-knife-230x32.dxf", str(DRAWING))
    (tmp_path / "order.toml").write_text(
        re.sub(r"(?m)^(thickness = )\S+", r"\g<1>0.3", text, count=1)
    )
    assert main(["make", str(tmp_path / "order.toml"), "--out", str(tmp_path / "good")]) == 2
    assert "left by an earlier order: side-a.nc" in capsys.readouterr().err
    assert names(tmp_path / "good") == set()


def test_a_program_changed_by_hand_is_neither_replaced_nor_removed(made, tmp_path, capsys):
    made(PROVED)
    run(tmp_path)
    (tmp_path / "side-a.nc").write_text("(slower)\n")
    assert run(tmp_path) == 2
    assert "side-a.nc is there, and it is not as knifecam wrote it" in capsys.readouterr().err
    made(OrderError("no"))
    assert run(tmp_path) == 2
    assert (tmp_path / "side-a.nc").read_text() == "(slower)\n"


def test_a_file_of_someone_elses_is_not_replaced(made, tmp_path):
    (tmp_path / "plate.png").write_bytes(b"a photograph")
    made(PROVED)
    assert run(tmp_path) == 2
    assert kept(tmp_path) == {"plate.png": b"a photograph"}


def test_the_verdict_names_its_files(made, tmp_path):
    made(PROVED)
    run(tmp_path)
    files = json.loads((tmp_path / "verdict.json").read_text())["files"]
    assert set(files) == names(tmp_path) - {"verdict.json"}
    digest = hashlib.sha256((tmp_path / "side-b.nc").read_bytes()).hexdigest()
    assert files["side-b.nc"] == digest


def test_no_folder_is_refused(made, capsys):
    made(PROVED)
    assert main(["make", str(DEMO), "--out", ""]) == 2
    assert capsys.readouterr().err == (
        "refused: --out= is empty; name a folder, or '.' for the current one\n"
    )


def test_what_cannot_be_drawn_loses_no_proved_program(made, tmp_path, monkeypatch, capsys):
    made(PROVED)
    run(tmp_path)

    def fails(judged, path):
        path.write_bytes(b"half")
        raise ValueError("no such backend")

    monkeypatch.setattr("knifecam.report.plate_picture.picture", fails)
    assert run(tmp_path) == 0
    assert names(tmp_path) == {*PROGRAMS[:3], *ALWAYS} - {"plate.png"}
    told = json.loads(capsys.readouterr().out.split("\n}\n", 1)[1])
    assert told["notes"] == ["plate.png could not be drawn (ValueError: no such backend)"]


def test_a_disk_that_is_full_of_pictures_leaves_everything_as_it_was(made, tmp_path, monkeypatch):
    made(PROVED)
    run(tmp_path)
    before = kept(tmp_path)

    def fails(judged, path):
        raise OSError(28, "No space left on device", str(path))

    monkeypatch.setattr("knifecam.report.plate_picture.picture", fails)
    assert run(tmp_path) == 2
    assert kept(tmp_path) == before


SCREEN = """
import sys
from types import SimpleNamespace
import knifecam.cli as cli

cli._look = lambda options: cli.tell(["seen " + "x" * 100_000]) or {status}
sys.exit(cli.main(["look", "x.dxf"]))
"""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no disk that is full")
@pytest.mark.parametrize("status", [0, 1])
def test_a_screen_that_takes_no_lines_leaves_the_works_exit_status(status):
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [sys.executable, "-c", SCREEN.format(status=status)],
            stdout=full, stderr=subprocess.PIPE, text=True, cwd=ROOT,
        )  # fmt: skip
    assert done.returncode == status, done.stderr
    assert done.stderr == (
        "the screen lines could not be written: no space left on device; files and exit status are not"
        " affected\n"
    )


def test_a_screen_without_a_letter_shows_its_number():
    name = "m\u00e4de-\udcff"
    command = f"import knifecam.files as f; f.tell([{name!a}]); f.tell_error([{name!a}])"
    done = subprocess.run(
        [sys.executable, "-c", command], capture_output=True, cwd=ROOT,
        env=os.environ | {"PYTHONIOENCODING": "ascii:strict"},
    )  # fmt: skip
    assert (done.stdout, done.returncode) == (b"m\\xe4de-\\udcff\n", 0)
    assert done.stderr == done.stdout


STOPPED = """
import signal, sys, time
import knifecam.cli as cli

signal.signal(signal.SIGINT, signal.default_int_handler)  # what runs the tests may ignore them
signal.signal(signal.SIGTERM, signal.SIG_DFL)
signal.signal(signal.SIGHUP, signal.SIG_DFL)

def look(options):
    print("at work", flush=True)
    time.sleep(60)

cli._look = look
sys.exit(cli.main(["look", "x.dxf"]))
"""


@pytest.mark.parametrize("number", ["SIGINT", "SIGTERM", "SIGHUP"])
def test_stopped_by_any_signal_is_stopped_by_hand(number):
    with subprocess.Popen(
        [sys.executable, "-c", STOPPED], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        cwd=ROOT,
    ) as work:  # fmt: skip
        assert work.stdout.readline() == "at work\n"
        work.send_signal(getattr(signal, number))
        _, said = work.communicate()
    assert work.returncode == 130
    assert said == "stopped: nothing was written, nothing changed\n"


@pytest.mark.parametrize("program", ["/dev/zero", "a pipe"])
def test_a_program_that_never_ends_is_refused(tmp_path, capsys, program):
    if program == "a pipe":
        os.mkfifo(tmp_path / "program")
        program = str(tmp_path / "program")
    assert main(["check", str(DEMO), program, "-"]) == 2
    assert re.match("refused: .*: it is a (device|pipe), not a file", capsys.readouterr().err)


def test_a_program_of_other_bytes_than_text_is_refused_with_its_line(tmp_path, capsys):
    program = tmp_path / "side-a.nc"
    program.write_bytes(b"(PART)\nG21\n(M\xe4rz)\nM2\n")
    assert main(["check", str(DEMO), str(program), "-"]) == 2
    assert "side-a.nc: line 3: byte 0xe4 is no plain text" in capsys.readouterr().err


def test_a_program_with_a_mark_and_words_beyond_ascii_is_read(tmp_path):
    program = tmp_path / "side-a.nc"
    program.write_text("(März)\nG21\nM2\n", encoding="utf-8-sig")
    assert _text(str(program)) == "(März)\nG21\nM2\n"
