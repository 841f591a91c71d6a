"""Compare the flat rows of findings and of ended checks with what their check comes to, made again."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from app.auditing.recomputing import Stored
from app.records.kept import PRIMING
from app.records.store_verification import Failing
from app.site.flat_rows import made_reached, made_rows
from app.storage import Reader

_PLACE = ("subject", "round", "number", "state", "person")


def failing_flat_rows(reader: Reader, stored: Stored) -> Iterator[Failing]:
    """What of the flat rows of one check is missing, is not of it, or says something else."""
    loaded = stored.loaded
    check, made = loaded.state.check.id, made_rows(stored.site, reader, loaded)
    ended = () if made.ended is None else (made.ended,)
    yield from _compared(check, "finding", reader.finding_rows(check), made.findings)
    yield from _compared(check, "finding_settled", reader.settled_rows(check), made.settled)
    yield from _compared(check, "ended_check", reader.ended_rows(check), ended)
    yield from _compared(check, "finding_reached", reader.reached_rows(check), made_reached(reader, made))


def _compared(check: str, table: str, kept: Iterable[object], made: Iterable[object]) -> Iterator[Failing]:
    rows, wanted = _by_place(kept), _by_place(made)
    for place in rows.keys() - wanted.keys():
        what = f"a row that is not what the check comes to{_named(place)}"
        yield Failing(check=check, about=table, what=what)
    for place, row in wanted.items():
        if place not in rows:
            yield Failing(check=check, about=table, what=f"a row that should be there is not{_named(place)}")
            continue
        for name, value in row.items():
            if rows[place][name] != value:
                what = f"it is not what the check comes to{_named(place)}"
                yield Failing(check=check, about=f"{table}.{name}", what=what)


def _by_place(rows: Iterable[object]) -> dict[tuple[Any, ...], Mapping[str, Any]]:
    found = (vars(each) for each in rows)
    return {tuple(row[name] for name in _PLACE if name in row): row for row in found}


def _named(place: tuple[Any, ...]) -> str:
    """Which finding, where a check may have several."""
    if not place:
        return ""
    subject, number, found, *_ = place
    return f": finding {found} of {'primed volume' if subject == PRIMING else 'reading'} {number}"
