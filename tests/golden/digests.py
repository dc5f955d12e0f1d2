"""What an order gives, as digests that can be held against those of another state of the code."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from knifecam.errors import KnifecamError
from knifecam.making import Made, make, summary
from knifecam.rs274.program_reader import read_program
from tests.golden.specimens import order_of

Digests = dict[str, Any]

CELL = 0.2
"""mm: exact columns carry the figures; the grid is only there to be judged with."""


def short(data: bytes | str) -> str:
    """Return a digest of twelve hexadecimal digits."""
    told = data.encode() if isinstance(data, str) else data
    return hashlib.sha256(told).hexdigest()[:12]


def motions_digest(texts: Mapping[str, str]) -> str:
    """Return the digest of all that the mill is made to do: places to 1e-6 mm, feeds, modes, stops.

    Line numbers and the words of messages are left out.
    """
    told = hashlib.sha256()
    for _, text in sorted(texts.items()):
        trace = read_program(text)
        m = trace.motions
        for places in (m.start, m.stop, m.centre, m.turns, m.feed):
            rounded = np.round(np.nan_to_num(places, nan=-1e9), 6) + 0.0
            told.update(np.ascontiguousarray(rounded).tobytes())
        for modes in (m.kind, trace.cutter, trace.length, trace.spindle, trace.speed, trace.mist,
                      trace.flood, trace.offset, trace.path):  # fmt: skip
            told.update(np.ascontiguousarray(modes).astype(np.float64).tobytes())
        acts = [(a.kind, a.before, a.number) for a in trace.acts if a.kind != "comment"]
        told.update(json.dumps(acts).encode())
    return told.hexdigest()[:12]


def leaves(data: object, path: str = "") -> Iterator[tuple[str, object]]:
    """Yield every figure of plain data with the way to it; places of a list are not told apart."""
    if isinstance(data, Mapping):
        for key, value in data.items():
            yield from leaves(value, f"{path}.{key}" if path else str(key))
    elif isinstance(data, list | tuple) and any(isinstance(one, Mapping) for one in data):
        for one in data:
            yield from leaves(one, f"{path}[]")
    else:
        yield path, data


def verdict_digests(verdict: Mapping[str, Any]) -> dict[str, str]:
    """Return a digest for each key of a verdict: all that stands at it, in turn."""
    told: dict[str, list[object]] = {}
    for path, value in leaves(verdict):
        told.setdefault(path, []).append(value)
    return {path: short(json.dumps(values)) for path, values in sorted(told.items())}


def texts_of(made: Made) -> dict[str, str]:
    """Return all programs of an order by name."""
    texts = {
        "side-a": made.programs[0].text,
        "side-b": made.programs[1].text,
        "align-b": made.align,
    }
    return texts if made.offsets is None else texts | {"offsets": made.offsets}


def digests_of(name: str, *, cell: float = CELL, folder: Path | None = None) -> Digests:
    """Return the digests of a specimen, and the lines of its refusal where it is refused.

    ``folder``: where texts, verdict and screen are written in full, for a look at what differs.
    """
    try:
        made = make(order_of(name), cell=cell)
    except KnifecamError as refused:
        _write(folder, name, {"refused.txt": "\n".join(refused.lines) + "\n"})
        return {"refused": list(refused.lines)}
    texts = texts_of(made)
    screen = "\n".join(summary(made, Path("made"), assumed=True)) + "\n"
    verdict = made.verdict.as_dict()
    told = {f"{which}.nc": text for which, text in texts.items()}
    told |= {"screen.txt": screen, "verdict.json": json.dumps(verdict, indent=1) + "\n"}
    _write(folder, name, told)
    return {
        "ok": made.verdict.ok,
        "motions": motions_digest(texts),
        "text": {which: short(text) for which, text in texts.items()},
        "verdict": verdict_digests(verdict),
        "screen": short(screen),
    }


def _write(folder: Path | None, name: str, files: Mapping[str, str]) -> None:
    if folder is None:
        return
    place = folder / name.replace(" ", "-")
    place.mkdir(parents=True, exist_ok=True)
    for file, text in files.items():
        (place / file).write_text(text)


def differences(before: Digests | None, now: Digests | None) -> Iterator[str]:
    """Yield what differs between two states of one specimen."""
    if before is None or now is None:
        yield "is new" if before is None else "is gone"
    elif ("refused" in before) != ("refused" in now):
        yield "refused now" if "refused" in now else "refused no more"
        yield from (f"  {line}" for line in now.get("refused", before.get("refused", ())))
    elif "refused" in now:
        yield from (f"- {line}" for line in before["refused"] if line not in now["refused"])
        yield from (f"+ {line}" for line in now["refused"] if line not in before["refused"])
    else:
        yield from _parts(before, now)


def _parts(before: Digests, now: Digests) -> Iterator[str]:
    for part in ("ok", "motions", "screen"):
        if before[part] != now[part]:
            yield f"{part} differ" if part == "motions" else f"{part} differs"
    for part in ("text", "verdict"):
        old, new = before[part], now[part]
        changed = [key for key in old.keys() & new.keys() if old[key] != new[key]]
        for what, keys in (
            ("differs", changed), ("gone", old.keys() - new.keys()), ("new", new.keys() - old.keys())
        ):  # fmt: skip
            if keys:
                yield f"{part} {what}: {', '.join(sorted(keys))}"
