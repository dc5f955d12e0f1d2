"""The long runs of hostile files count what became of each, and tell every fault."""

from __future__ import annotations

import json
import signal

import pytest

from tests.hostile import __main__ as hostile


@pytest.fixture(autouse=True)
def _stopping():
    kept = signal.getsignal(signal.SIGPROF)
    yield
    signal.signal(signal.SIGPROF, kept)


@pytest.mark.parametrize("kind", hostile.BECAME)
def test_each_kind_runs_and_is_not_run_again(tmp_path, monkeypatch, capsys, kind) -> None:
    log = tmp_path / "log.jsonl"
    asked = [kind, "--seeds", "1000:1060", "--log", str(log)]
    monkeypatch.setattr(hostile, "SLICE", 40)
    assert hostile.main(asked) == 0
    rows = [json.loads(line) for line in log.read_text().splitlines()]
    assert [row["seeds"] for row in rows] == [[1000, 1040], [1040, 1060]]
    assert sum(sum(row["became"].values()) for row in rows) == 60
    monkeypatch.setattr(hostile, "row_of", lambda *_: pytest.fail("run again"))
    assert hostile.main(asked) == 0
    assert "60 files in" in capsys.readouterr().out


def test_faults_are_told_with_their_seeds_and_status_1(tmp_path, monkeypatch, capsys) -> None:
    def crashing(seed: int) -> str:
        return str(1 / (seed - 3))

    monkeypatch.setitem(hostile.BECAME, "programs", crashing)
    assert hostile.main(["programs", "--seeds", "0:5", "--log", str(tmp_path / "l.jsonl")]) == 1
    assert "FAULT seed 3 ZeroDivisionError" in capsys.readouterr().out


def test_a_file_that_takes_too_long_is_stopped(tmp_path, monkeypatch, capsys) -> None:
    def endless(seed: int) -> str:
        while True:
            seed += 1

    monkeypatch.setattr(hostile, "SLOWEST", 0.05)
    monkeypatch.setitem(hostile.BECAME, "programs", endless)
    assert hostile.main(["programs", "--seeds", "0:2", "--log", str(tmp_path / "l.jsonl")]) == 1
    assert "2 faults" in capsys.readouterr().out
