"""Rows of the exported table from what the database puts together: each cell guarded as it would be alone."""

import csv
import io

from hypothesis import example, given
from hypothesis import strategies as st

from app.records.exported_columns import CHECK, COLUMNS, FINDING, MARK, OF_CHECK, OF_FINDING, Exported, Holds
from app.reports.cells import guard
from app.reports.csv_lines import HEAD, rows_of

# Whatever begins a formula, cuts a cell, stands in front of a sign, or marks off what is put together.
HOSTILE = st.text(
    st.sampled_from(f"=+-@'\"\t\r\n\v\f\x85\u2028\uff1d\uff0d\uff20,;| \u00a0\u200b{MARK}a1"), max_size=6
)
CELL = st.one_of(st.none(), HOSTILE)
MOST = max(len(OF_CHECK), len(OF_FINDING))
# The same few texts, over and over, in every column.
SOME = st.lists(CELL, min_size=1, max_size=7)


def quoted(text: str | None) -> str:
    return "" if text is None else '"' + text.replace('"', '""') + '"'


def drawn(columns: tuple[Exported, ...], texts: list[str | None]) -> list[str | None]:
    """A value for each column: no number is negative, and no time is a text."""
    return [texts[at % len(texts)] if each.holds is Holds.TEXT else "7" for at, each in enumerate(columns)]


def shown(columns: tuple[Exported, ...], values: list[str | None]) -> list[str | None]:
    return [
        guard(value) if value is not None and each.holds is Holds.TEXT else value
        for each, value in zip(columns, values, strict=True)
    ]


def put_together(of_check: list[str | None], of_findings: list[list[str | None]]) -> bytes:
    parts = [",".join(map(quoted, each)) for each in (*of_findings, of_check)]
    return MARK.join([str(len(of_findings)), *parts]).encode()


def expected(of_check: list[str | None], of_findings: list[list[str | None]]) -> list[str]:
    cells = shown(OF_CHECK, of_check)
    last: list[str | None] = [None] * (len(COLUMNS) - 1 - len(OF_CHECK) - len(OF_FINDING))
    if not of_findings:
        return [",".join(map(quoted, [CHECK, *cells, *[None] * len(OF_FINDING), *last]))]
    return [",".join(map(quoted, [FINDING, *cells, *shown(OF_FINDING, each), *last])) for each in of_findings]


@given(SOME, st.lists(SOME, max_size=3))
@example(["-1/7"], [])
@example(['"=1'], [['a,"', "-b"], ['a,"', '"-b']])
@example([f'"{MARK}"'], [[MARK, "'"], [None, "", f"a{MARK}=b"]])
@example(["a|=b", ""], [["'", "a,'b"]])
def test_each_text_is_guarded_as_it_would_be_alone(
    check: list[str | None], findings: list[list[str | None]]
) -> None:
    of_check, of_findings = drawn(OF_CHECK, check), [drawn(OF_FINDING, each) for each in findings]
    # Beside it one in which nothing is to be guarded.
    innocent = put_together(drawn(OF_CHECK, ["a"]), [drawn(OF_FINDING, ["b", ""])])

    first, second = rows_of([put_together(of_check, of_findings), innocent])
    assert [each.decode() for each in first] == [f"{each}\r\n" for each in expected(of_check, of_findings)]
    assert len(second) == 1
    assert b'"a","a"' in second[0]


def test_the_head_names_the_columns() -> None:
    (names,) = csv.reader(io.StringIO(HEAD.decode()))
    assert names == [each.name for each in COLUMNS]
