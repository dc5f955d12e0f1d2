"""Whatever stands in an order, it is read or refused with lines; nothing else ever comes out."""

from __future__ import annotations

import json
from types import SimpleNamespace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from knifecam.curve import rectangle
from knifecam.errors import KnifecamError
from knifecam.order import order_from_text
from knifecam.order.key_values import Choice
from knifecam.order.order_tables import OrderText
from knifecam.order.toml_text import entry_of, is_list, section_of
from knifecam.shop import Order

PARTS = SimpleNamespace(
    outline=rectangle(0, 0, 120, 22),
    bores=(SimpleNamespace(name="bore-1", centre=(10.0, 11.0), diameter=5.0),),
    slots=(),
    tabs=(),
    no_tabs=(),
    no_tab_pairs=(),
)

WORDS = sorted(
    {
        word
        for about in OrderText.model_fields.values()
        if (inner := section_of(about))
        for below in inner.model_fields.values()
        if isinstance(entry := entry_of(below), Choice)
        for word in entry.words
    }
)
numbers = st.one_of(
    st.integers(-5, 300), st.floats(-10, 300), st.sampled_from([0.0, 1e300, float("inf")]),
    st.just(float("nan")),
)  # fmt: skip
units = st.sampled_from(
    ["mm", "in", "rpm", "m/min", "mm/min", "deg", "HRC", "s", "ells", "", "mm^"]
)
quantities = st.builds(lambda n, u: f"{n} {u}", st.floats(-5, 200), units)
texts = st.one_of(st.text(max_size=12), st.sampled_from(WORDS), quantities)
plain = st.one_of(st.booleans(), numbers, texts)
values = st.recursive(
    plain,
    lambda inner: st.one_of(
        st.lists(inner, max_size=5), st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=6,
)
places = st.lists(numbers, min_size=2, max_size=3)


def table(section: type) -> st.SearchStrategy[dict[str, object]]:
    """Return tables with any of the section's keys and any values, now and then a foreign key."""
    keys = {
        key: st.lists(table(inner), max_size=2)
        if (inner := section_of(about)) and is_list(about)
        else table(inner)
        if inner
        else st.one_of(values, st.lists(places, max_size=5), st.lists(numbers, max_size=5))
        for key, about in section.model_fields.items()
    }
    return st.fixed_dictionaries({}, optional={**keys, "foreign": values})


def toml(value: object) -> str:
    """Return a value as TOML writes it."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, str):
        clean = value.encode("utf-8", "ignore").decode().replace("\x7f", "")
        return json.dumps(clean, ensure_ascii=True)
    if isinstance(value, list):
        return "[" + ", ".join(toml(one) for one in value) + "]"
    pairs = (f"{toml(key)} = {toml(one)}" for key, one in value.items())
    return "{" + ", ".join(pairs) + "}"


def document(tables: dict[str, object]) -> str:
    """Return tables as a TOML document, with inline tables."""
    return "".join(f"{toml(key)} = {toml(value)}\n" for key, value in tables.items())


def _read(text: str) -> None:
    try:
        order = order_from_text(text, folder="nowhere", drawing=PARTS)
    except KnifecamError as error:
        lines, order = error.lines, None
    else:
        lines = tuple(map(str, order.assumed))
    assert order is None or isinstance(order, Order)
    assert lines
    assert all(line and "\n" not in line and line.isprintable() for line in lines)


SOUND = {
    "name": "x",
    "plate": {"length": 200, "width": 80, "thickness": [3.0, 3.0, 3.0, 3.0]},
    "cutters": [{"number": 1, "kind": "flat", "diameter": 3.0}],
}


@settings(
    max_examples=70, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip
@given(st.dictionaries(st.sampled_from(list(OrderText.model_fields)), values), table(OrderText))
def test_any_order_is_read_or_refused(loose: dict[str, object], near: dict[str, object]) -> None:
    _read(document(near | loose))


@settings(
    max_examples=120, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip
@given(
    st.sampled_from(list(OrderText.model_fields))
    .filter(lambda key: section_of(OrderText.model_fields[key]) is not None)
    .flatmap(lambda key: st.tuples(st.just(key), table(section_of(OrderText.model_fields[key]))))
)
def test_one_loose_table_in_a_sound_order(changed: tuple[str, dict[str, object]]) -> None:
    key, entries = changed
    base = SOUND.get(key, {})
    several = is_list(OrderText.model_fields[key])
    one = (base[0] if several and base else {} if several else base) | entries
    _read(document(SOUND | {key: [one] if several else one}))


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.text(max_size=80))
def test_any_text_is_read_or_refused(text: str) -> None:
    _read(text)
