"""The count of good orders tells apart what is proved, refused, found and crashed."""

from __future__ import annotations

import json

import pytest

from knifecam import making
from tests.agreement import __main__ as counted


def test_some_of_each_kind_are_proved_or_refused(tmp_path, capsys) -> None:
    log = tmp_path / "log.jsonl"
    for kind, orders in (("good", "20:22"), ("bevel", "0:3"), ("detailed", "12:13")):
        asked = ["--kind", kind, "--orders", orders, "--cell", "0.4", "--log", str(log)]
        assert counted.main(asked) == 0
    rows = [json.loads(line) for line in log.read_text().splitlines()]
    assert [(row["kind"], row["order"]) for row in rows] == [
        ("good", 20), ("good", 21), ("bevel", 0), ("bevel", 1), ("bevel", 2), ("detailed", 12),
    ]  # fmt: skip
    assert {row["became"] for row in rows} == {counted.PROVED, counted.REFUSED}
    assert "2 orders: 2 proved" in capsys.readouterr().out


def test_what_the_log_has_is_not_made_again(tmp_path, monkeypatch) -> None:
    log = tmp_path / "log.jsonl"
    row = {"kind": "good", "order": 3, "cell": 0.1, "became": counted.PROVED, "why": [], "s": 1.0}
    log.write_text(json.dumps(row) + '\n{"kind": "go')
    monkeypatch.setattr(counted, "row_of", lambda *_: pytest.fail("made again"))
    assert counted.main(["--orders", "3:4", "--log", str(log)]) == 0
    assert log.read_text().endswith('{"kind": "go\n')


def test_a_finding_is_told_with_status_1(tmp_path, monkeypatch, capsys) -> None:
    """The judge is handed side A's program twice, as a planner would that forgot the flip."""
    told = making._judge
    monkeypatch.setattr(making, "_judge", lambda o, texts, cell: told(o, (texts[0],) * 2, cell))
    asked = ["--orders", "20:21", "--cell", "0.4", "--log", str(tmp_path / "log.jsonl")]
    assert counted.main(asked) == 1
    assert "1 FOUND" in capsys.readouterr().out


def test_an_error_without_lines_is_told_with_status_1(tmp_path, monkeypatch, capsys) -> None:
    monkeypatch.setattr(counted, "make", lambda *_, **__: 1 / 0)
    asked = ["--orders", "20:21", "--log", str(tmp_path / "log.jsonl")]
    assert counted.main(asked) == 1
    assert "1 CRASHED" in capsys.readouterr().out
