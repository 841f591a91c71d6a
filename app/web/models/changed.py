"""What is changed of the settings in force, as a page shows it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from app.reports.changed import changes_shown
from app.web.models.doses import Doses
from app.web.models.spine import Number, find_number


@dataclass(frozen=True, kw_only=True)
class ChangeRow:
    """One figure, before and now: one line where it is as before; no number where there is none."""

    label: str
    lines: tuple[tuple[str, Number | None], ...]
    says: str

    @property
    def numbers(self) -> Iterator[Number]:
        """The numbers that need a place on the spine."""
        yield from (number for _, number in self.lines if number is not None)


def numbers_in(doses: tuple[Doses, ...], changed: tuple[ChangeRow, ...]) -> Iterator[Number]:
    """The numbers of both that need a place on the spine."""
    yield from (number for dose in doses for number in dose.numbers)
    yield from (number for row in changed for number in row.numbers)


def change_rows(comparison: Mapping[str, Any]) -> tuple[ChangeRow, ...]:
    """The rows of a comparison that says what is changed."""
    return tuple(
        ChangeRow(
            label=each.label,
            lines=(("before", find_number(each.before)), ("now", find_number(each.now)))
            if each.says
            else (("", find_number(each.now)),),
            says=each.says,
        )
        for each in changes_shown(comparison)
    )
