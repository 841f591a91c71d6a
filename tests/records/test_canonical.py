"""Canonical bytes beside a library that writes every form: the quick way must not be told from it."""

import enum
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from app.records import canonical as module
from app.records.canonical import canonical

# What records hold, and what they never hold: floating numbers, names and texts of every plane.
VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner) | st.tuples(inner, inner),
    max_leaves=30,
)


class Word(enum.StrEnum):
    SAID = "said \u20ac"


@given(VALUES)
def test_it_writes_what_the_library_writes(value: Any) -> None:  # noqa: ANN401  # any JSON value
    assert canonical(value) == rfc8785.dumps(value)


@pytest.mark.parametrize(
    "value",
    [
        # UTF-16 sorts U+1F602 (D83D DE02) before U+FB33; code points sort it behind (RFC 8785, 3.2.3).
        {"\U0001f602": 1, "\ufb33": 2},
        {"b": 1, "a": {"d": 1, "c": 2}},
        [2**53 - 1, -(2**53) + 1, 1.0, 1e21, 1e-7, -0.0],
        ['\x00\x08\x1f"\\/\x7f\u2028', Word.SAID, {Word.SAID: Word.SAID}],
        {"": [], "one": {}, "two": ()},
    ],
)
def test_where_another_writer_would_differ(value: Any) -> None:  # noqa: ANN401  # as above
    assert canonical(value) == rfc8785.dumps(value)


@pytest.mark.parametrize(
    "value", [float("inf"), -(2**53), {1: "a"}, {None: "a"}, {"a": object()}, "\ud800", {"\ud800": 1}]
)
def test_what_the_library_refuses_is_refused(value: Any) -> None:  # noqa: ANN401  # as above
    for written in (value, [value], {"a": value}):
        with pytest.raises(ValueError, match=r"."):
            canonical(written)


def test_a_refusal_does_not_repeat_the_text() -> None:
    with pytest.raises(ValueError, match="code") as refused:
        canonical(["Nadia Ferrow \ud800"])
    assert "Nadia" not in str(refused.value)


def test_without_looking_first_some_would_differ(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_is_plain", lambda _: True)
    for value in ({"\U0001f602": 1, "\ufb33": 2}, 1.0):
        assert canonical(value) != rfc8785.dumps(value)
