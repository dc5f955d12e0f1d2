"""Which order a program names at its head, and what is told of it."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from knifecam.cli import main
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, Origin, Verdict, origin_of
from knifecam.order import load_order
from knifecam.planning import lay_out
from knifecam.program import write_program
from knifecam.report.screen_lines import finding_lines, origin_lines
from tests.agreement.orders import simple_order
from tests.unit.test_cli import DEMO

OWN, OTHER = "0123456789abcdef", "fedcba9876543210"
ORDER = replace(simple_order(), digest=OWN)
BOTH, ONE = {"sides": {"A": {}, "B": {}}}, {"sides": {"A": {}}}


def head(digest):
    return f"%\n(KNIFE, SIDE A)\n(KNIFECAM 0.1.0, ORDER {digest.upper()})\nG21\nM2\n%\n"


def test_the_head_that_is_written_is_read():
    plan = lay_out(ORDER)
    texts = tuple(write_program(ORDER, plan, side).text for side in "AB")
    assert origin_of(ORDER, texts) == Origin(order=OWN, programs=(("A", OWN), ("B", OWN)))
    by_hand = replace(ORDER, digest="")
    assert origin_of(by_hand, (write_program(by_hand, plan, "A").text, None)).programs == (
        ("A", ""),
    )


@pytest.mark.parametrize(
    ("a", "b", "fits"),
    [
        (OWN, OWN, True), (OWN, OTHER, False), (OTHER, "BUILT BY HAND", False), (OWN, None, True),
        (OWN, "BUILT BY HAND", None), ("", "", None),
    ],
)  # fmt: skip
def test_programs_fit_when_all_name_this_order(a, b, fits):
    texts = tuple(None if digest is None else head(digest) for digest in (a, b))
    assert origin_of(ORDER, texts).fits is fits


@pytest.mark.parametrize(
    "text",
    [
        f"(A KNIFE, KNIFECAM 0.1.0, ORDER {OTHER})\nM2\n",
        f"(KNIFECAM 0.1.0, ORDER {OTHER}, SIDE A)\nM2\n",
        f"(KNIFECAM 0.1.0, ORDER {OTHER[:8]})\nM2\n",
        f"M0 (KNIFECAM 0.1.0, ORDER {OTHER})\nM2\n",
        "",
    ],
)
def test_a_text_that_only_looks_alike_names_no_order(text):
    assert origin_of(ORDER, (text, None)).programs == (("A", ""),)


def test_lines_numbered_or_from_another_system_are_read():
    assert origin_of(ORDER, (head(OWN).replace("\n", "\r\n"), None)).fits
    assert origin_of(ORDER, (f"N10 (knifecam 1.2, order {OWN})\n", None)).fits


def test_what_is_told_of_the_order():
    assert list(origin_lines(origin_of(ORDER, (head(OWN), head(OWN))))) == [
        f"the programs were written for this order, {OWN}"
    ]
    assert list(origin_lines(origin_of(ORDER, (head(OTHER), "M2\n")))) == [
        f"ANOTHER ORDER: side A's program was written for order {OTHER}, but this is order {OWN};"
        " what follows compares the two",
        "side B's program does not name its order",
    ]
    assert list(origin_lines(origin_of(replace(ORDER, digest=""), (head(OTHER), None)))) == [
        f"side A's program was written for order {OTHER}; this order was built by"
        " hand and has no number"
    ]


def test_a_verdict_begins_with_the_order():
    origin = origin_of(ORDER, (head(OTHER), None))
    told = Verdict(origin=origin, measures=ONE).as_dict()
    assert next(iter(told)) == "order"
    assert told["order"] == {"digest": OWN, "programs": {"A": OTHER}, "fits": False}


def test_one_side_alone_is_a_state_of_its_own():
    finding = Finding(kind=Kind.TAB, side="A", line=3, message="thin")
    rows = [
        (Verdict(measures=BOTH), True, "proved"),
        (Verdict(measures=ONE), False, "one side"),
        (Verdict(measures=ONE, findings=(finding,)), False, "not proved"),
        (Verdict(measures=BOTH, findings=(finding,)), False, "not proved"),
    ]
    for verdict, ok, state in rows:
        assert (verdict.ok, verdict.state) == (ok, state)
        assert (verdict.as_dict()["ok"], verdict.as_dict()["state"]) == (ok, state)
    (line,) = finding_lines(rows[1][0], ORDER)
    assert line.startswith("PROVED FOR SIDE A ONLY")


@pytest.fixture
def checked(monkeypatch, tmp_path):
    """Return a function that runs `check` of programs that name an order, judged as told."""
    own = load_order(DEMO).digest

    def run(*more, named=None, measures=BOTH, findings=()):
        named = own if named is None else named
        for name in "ab":
            (tmp_path / name).write_text(head(named))

        def check(order, texts, *, cell):
            origin = origin_of(order, texts)
            verdict = Verdict(origin=origin, measures=measures, findings=findings)
            return SimpleNamespace(verdict=verdict)

        monkeypatch.setattr("knifecam.making.check", check)
        return main(["check", str(DEMO), str(tmp_path / "a"), str(tmp_path / "b"), *more])

    return run


def test_the_screen_begins_with_the_order_and_ends_with_the_bench(checked, capsys):
    assert checked() == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("the programs were written for this order, ")
    assert lines[-1].startswith("expect more on the mill: ")
    assert checked(named=OTHER) == 0
    assert capsys.readouterr().out.startswith(
        "ANOTHER ORDER: side A's program was written for order"
    )
    assert checked(named="BUILT BY HAND") == 0
    assert capsys.readouterr().out.startswith("side A's program does not name its order")


def test_the_exit_status_is_the_verdicts(checked):
    found = (Finding(kind=Kind.TAB, side="B", line=3, message="thin"),)
    assert checked(findings=found) == 1
    assert checked(measures=ONE) == 3


@pytest.mark.parametrize(("named", "status"), [(None, 0), (OTHER, 1), ("BUILT BY HAND", 0)])
def test_surfaces_of_another_order_are_findings(checked, monkeypatch, capsys, named, status):
    monkeypatch.setattr(
        "knifecam.report.surface_deviation.blade_surface", lambda *given, **more: None
    )
    monkeypatch.setattr("knifecam.report.surface_deviation.surface_deviations", lambda *given: ())
    assert checked("--surfaces", named=named) == status
    assert "ORDER" in capsys.readouterr().out.splitlines()[0].upper()
