"""A set of files is exchanged whole, wherever its writer is killed and whoever else writes."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from knifecam.errors import OutputError
from knifecam.files import mend, write_whole

ROOT = Path(__file__).parents[2]
ALL = bool(os.environ.get("KNIFECAM_ALL"))
KILLS, RACES = (200, 400) if ALL else (40, 40)

WRITER = """
import os, random, signal, sys
from pathlib import Path
from knifecam import files

SETS = {"old": ("a", "b", "c", "gone"), "new": ("a", "b", "c", "d")}
NAMES = ("a", "b", "c", "d", "gone")


def write(folder, which):
    held = {name: f"{name} of {which}" for name in SETS[which]}
    files.write_whole(folder, held, stale=[n for n in NAMES if n not in held])


def killed_at(count):
    \"\"\"Let the process die at its count-th step that the disk sees.\"\"\"
    left = [count]

    def deadly(real):
        def step(*given, **more):
            left[0] -= 1
            if left[0] == 0:
                os.kill(os.getpid(), signal.SIGKILL)
            return real(*given, **more)

        return step

    for name in ("replace", "unlink", "mkdir", "rmdir", "fsync", "open"):
        setattr(os, name, deadly(getattr(os, name)))


def child(work):
    pid = os.fork()
    if pid == 0:
        try:
            work()
        except BaseException as error:
            print("child:", repr(error), file=sys.stderr)
            os._exit(1)
        os._exit(0)
    return pid


def held(folder):
    return {p.name: p.read_text() for p in folder.iterdir() if p.is_file()}
"""

KILLED = (
    WRITER
    + """
folder, seed, tries = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
draw, kills = random.Random(seed), 0
for turn in range(100 * tries):
    if kills == tries:
        break
    which, count = draw.choice(("old", "new")), draw.randint(1, 80)
    before = held(folder)
    (folder / "mine").write_text("of someone else")

    def work():
        killed_at(count)
        write(folder, which)

    _, status = os.waitpid(child(work), 0)
    kills += os.WIFSIGNALED(status)
    assert os.WIFSIGNALED(status) or os.WEXITSTATUS(status) == 0
    seen = [text.split(" of ")[1] for name, text in held(folder).items() if name in NAMES]
    assert len(set(seen)) <= 1, f"turn {turn}: {held(folder)}"
    files.mend(folder)
    names = {p.name for p in folder.iterdir()}
    sets = [{n: f"{n} of {w}" for n in SETS[w]} | {"mine": "of someone else"} for w in SETS]
    assert held(folder) in (*sets, {"mine": "of someone else"}), f"turn {turn}: {held(folder)}"
    assert held(folder) in (before | {"mine": "of someone else"}, sets[which == "new"]), turn
    assert not [n for n in names if n.startswith(".")], names
assert kills == tries, kills
"""
)

RACED = (
    WRITER
    + """
folder, seed, tries = Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])
for turn in range(tries):
    where = folder / str(turn % 7)
    ended = [os.waitpid(pid, 0)[1] for pid in [child(lambda w=w: write(where, w)) for w in SETS]]
    assert ended == [0, 0], ended
    assert held(where) in [{n: f"{n} of {w}" for n in SETS[w]} for w in SETS], held(where)
    assert not [p for p in where.iterdir() if p.name.startswith(".")]
"""
)


def ran(script, folder, count, seed=7):
    done = subprocess.run(
        [sys.executable, "-c", script, str(folder), str(seed), str(count)],
        capture_output=True, text=True, cwd=ROOT,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


def test_killed_anywhere_one_whole_set_is_left_after_the_next_run(tmp_path):
    ran(KILLED, tmp_path, KILLS)


def test_two_writers_at_once_leave_one_whole_set(tmp_path):
    ran(RACED, tmp_path, RACES)


def broken_off(folder, monkeypatch, moves):
    """Leave an exchange as a power cut after some moves leaves it."""
    real, left = os.replace, [moves]

    class Cut(BaseException):
        pass

    def replace(source, target):
        if left[0] == 0:
            raise Cut
        left[0] -= 1
        real(source, target)

    with monkeypatch.context() as patched:
        patched.setattr("knifecam.files.os.replace", replace)
        patched.setattr("knifecam.files._undo", lambda *given: None)
        patched.setattr("knifecam.files._clear", lambda *given: None)
        with pytest.raises(Cut):
            write_whole(folder, {"a": "new", "b": "new"}, stale=["gone"])


def test_what_came_after_the_break_is_not_touched(tmp_path, monkeypatch):
    write_whole(tmp_path, {"a": "old", "b": "old", "gone": "old"})
    broken_off(tmp_path, monkeypatch, moves=5)
    assert not (tmp_path / "a").exists()
    (tmp_path / "a").write_text("by hand")
    with pytest.raises(OutputError, match=r"a .*move it"):
        mend(tmp_path)
    assert (tmp_path / "a").read_text() == "by hand"
    (tmp_path / "a").unlink()
    assert mend(tmp_path)
    assert {p.name: p.read_text() for p in tmp_path.iterdir()} == {"a": "new", "b": "new"}


def test_a_file_that_is_not_ours_is_not_replaced(tmp_path):
    (tmp_path / "a").write_text("by hand")
    with pytest.raises(OutputError, match=r"a is there.*move it, or name another folder"):
        write_whole(tmp_path, {"a": "new", "b": "new"}, ours=lambda folder: ["b"])
    assert {p.name: p.read_text() for p in tmp_path.iterdir()} == {"a": "by hand"}


def test_a_folder_of_its_own_goes_again_but_nobody_elses_file_in_it(tmp_path):
    deep = tmp_path / "deep" / "er"

    def fails(path):
        (deep / "mine").write_text("of someone else")
        raise ValueError("no")

    with pytest.raises(ValueError, match="no"):
        write_whole(deep, {"a": fails})
    assert [p.name for p in deep.iterdir()] == ["mine"]


def test_nothing_to_mend_changes_nothing(tmp_path):
    assert not mend(tmp_path / "nowhere")
    (tmp_path / "mine").write_text(json.dumps({}))
    assert not mend(tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["mine"]
