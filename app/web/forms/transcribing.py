"""The form in which both sheets of paper are typed in, line by line as they stand; nothing is judged."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from wtforms import IntegerField, StringField
from wtforms.validators import DataRequired, Length, Optional

from app.records.sources import Source
from app.reports.paper_sheet import SheetRow
from app.web.forms.checking import TextForm, Wrong

LONGEST_LINE = 120
_TOO_LONG = f"Write at most {LONGEST_LINE} characters."


class SheetsForm(TextForm):
    """When and by whom they were filled in; `seen` is the last transcription that the page knew of."""

    seen = IntegerField("Seen", [Optional()])
    checked_at = StringField(
        "When", [DataRequired("Write when the sheets were filled in."), Length(max=60, message=_TOO_LONG)]
    )
    first = StringField(
        "Name on sheet 1",
        [DataRequired("Write the name on sheet 1."), Length(max=LONGEST_LINE, message=_TOO_LONG)],
    )
    second = StringField(
        "Name on sheet 2",
        [DataRequired("Write the name on sheet 2."), Length(max=LONGEST_LINE, message=_TOO_LONG)],
    )


@dataclass(frozen=True, kw_only=True)
class PaperLine:
    """One line of the sheets: what sheet 1 says, and what sheet 2 says where that is something else."""

    source: Source
    row: str
    label: str
    first: str
    second: str

    @property
    def name(self) -> str:
        """Of its field; that of sheet 2 ends otherwise."""
        return f"{self.source.value}-{self.row}"

    @property
    def says(self) -> str:
        """What is wrong with it."""
        if max(len(self.first), len(self.second)) > LONGEST_LINE:
            return _TOO_LONG
        if self.second and not self.first:
            return "Write what sheet 1 says too; blank where it says nothing."
        return ""


def lines_typed(asked: tuple[tuple[Source, SheetRow], ...], form: Mapping[str, str]) -> tuple[PaperLine, ...]:
    """The lines as they were typed."""
    return tuple(
        PaperLine(
            source=source,
            row=row.name,
            label=row.label,
            first=form.get(f"{source.value}-{row.name}", "").strip(),
            second=form.get(f"{source.value}-{row.name}-2", "").strip(),
        )
        for source, row in asked
    )


def by_source(lines: tuple[PaperLine, ...]) -> tuple[tuple[Source, tuple[PaperLine, ...]], ...]:
    """The lines of each source, in the order of the sheet."""
    sources = dict.fromkeys(each.source for each in lines)
    return tuple((source, tuple(each for each in lines if each.source is source)) for source in sources)


def rows_of(lines: tuple[PaperLine, ...]) -> tuple[tuple[str, str, str, str], ...]:
    """The lines on which paper says something; the same on both is said once."""
    return tuple(
        (each.source.value, each.row, each.first, "" if each.second == each.first else each.second)
        for each in lines
        if each.first
    )


def wrong_lines(lines: tuple[PaperLine, ...]) -> Iterator[Wrong]:
    """Every fault of a line, for the summary."""
    for each in lines:
        if each.says:
            yield Wrong(field=each.name, label=each.label, says=each.says)
