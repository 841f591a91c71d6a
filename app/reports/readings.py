"""What each read from each source, as rows: what agrees once, what differs stacked, A over B."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from app.comparison import CaseError, read_without_library
from app.comparison.fields import RISKS
from app.comparison.masses import masses_in
from app.records.fields import find_field
from app.records.followup import Found
from app.records.kept import FIRST, LETTERS, SECOND
from app.records.kinds import Kind
from app.records.reading import Answers, used
from app.records.sources import Source
from app.reports.shown_fields import LINE_END, WITHOUT_ONE, Shown
from app.words.names import SOURCES, listed, loud_times, severity_words

# A number with its unit, or a bare one. A day or a lot may begin with a digit too: it is text, and wraps.
_NUMBER = re.compile(
    r"(\d[\d,]*)(\.\d+)?(| ?(?:mcg|mg|mL|mmHg|min|kg|h|s|%|/min)(?![A-Za-z]).*)", re.DOTALL | re.ASCII
)


@dataclass(frozen=True, kw_only=True)
class Line:
    """One value and who read it where; `who` blank: both read it so; `text` None: nobody entered it."""

    who: str
    sources: tuple[str, ...]
    text: str | None

    @property
    def read_from(self) -> str:
        """`order, label and device`."""
        return listed([SOURCES[each].lower() for each in self.sources]) if self.sources else ""

    @property
    def number(self) -> tuple[str, str, str] | None:
        """Whole part, decimals and the rest, for the decimal spine; None for words."""
        matched = _NUMBER.fullmatch(self.text or "")
        return (matched[1], matched[2] or "", matched[3]) if matched else None


@dataclass(frozen=True, kw_only=True)
class Mark:
    """The mark beside a row: a shape, a word, and the factor on its plate."""

    shape: str
    word: str
    plate: str = ""


_DEVICE = Source.DEVICE.value

AGREES = Mark(shape="agrees", word="AGREES")
RISKIER = Mark(shape="consider", word="RISKIER COUNTS")


@dataclass(frozen=True, kw_only=True)
class Row:
    """One field: its values, how the sources wrote it where that is something else, and its mark."""

    label: str
    lines: tuple[Line, ...]
    written: tuple[Line, ...] = ()
    mark: Mark | None = AGREES
    is_code: bool = False


@dataclass(frozen=True, kw_only=True)
class Standing:
    """What decides how a finding is called: the kind of check, and the rules that were set aside in it."""

    kind: Kind
    exempt: frozenset[str]


def lines_of(values: Mapping[tuple[str, str], str | None]) -> tuple[Line, ...]:
    """Values by (clinician, source) as lines: each text once, and A over B where the two differ."""
    lines: list[Line] = []
    for source in dict.fromkeys(source for _, source in values):
        texts = [values.get((letter, source)) for letter in LETTERS]
        read = [("", texts[0])] if texts[0] == texts[1] else list(zip(LETTERS, texts, strict=True))
        for who, text in read:
            _add(lines, Line(who=who, sources=(source,) if source else (), text=text))
    return tuple(lines)


def _add(lines: list[Line], line: Line) -> None:
    for place, known in enumerate(lines):
        if known.who == line.who and known.text == line.text:
            lines[place] = Line(who=line.who, sources=known.sources + line.sources, text=line.text)
            return
    lines.append(line)


def rows_of(
    fields: Iterable[Shown], readings: Mapping[str, Answers], findings: Sequence[Found], standing: Standing
) -> tuple[Row, ...]:
    """The rows of some fields in one round; a field that no source states has no lines and no mark."""
    return tuple(_row(field, readings, findings, standing) for field in fields)


def _row(field: Shown, readings: Mapping[str, Answers], findings: Sequence[Found], standing: Standing) -> Row:
    # A source that a kind does not read has no part in its record.
    read = {source for source, _ in standing.kind.reads}
    values = {at: said for at, said in values_of(field, readings).items() if at[1] in read}
    if not any(values.values()):
        return Row(label=field.row.label, lines=(), mark=None)
    mine = [each for each in findings if each.field in field.row.about]
    lines = _where_one_suffices(lines_of(values)) if _is_from_one(field, standing.kind) else lines_of(values)
    differently = len(lines) > 1 and not field.row.about.isdisjoint(RISKS)
    return Row(
        label=field.row.label,
        lines=tuple(_line_by_line(lines)),
        mark=RISKIER if differently else _row_mark(mine, standing),
        is_code=field.is_code,
    )


def _is_from_one(field: Shown, kind: Kind) -> bool:
    """Whether one suffices for it, or it is in the part of one of the two alone."""
    asked = [
        {kind.is_asked_of(slot, source, field.row.name) for slot in (FIRST, SECOND)}
        for source in field.row.sources
    ]
    return field.from_one or {True, False} in asked


def _line_by_line(lines: Iterable[Line]) -> Iterator[Line]:
    """An answer of several lines on as many."""
    for line in lines:
        yield from (
            (replace(line, text=text) for text in line.text.split(LINE_END)) if line.text else (line,)
        )


def with_masses(readings: Mapping[str, Answers], case: Mapping[str, Any]) -> dict[str, Answers]:
    """The same readings, with the mass beside each volume that a device takes as a dose."""
    read = read_without_library(case)
    made = {
        letter: {**answers, _DEVICE: dict(answers.get(_DEVICE, {}))} for letter, answers in readings.items()
    }
    masses = () if isinstance(read, CaseError) else masses_in(read)
    for letter, field, mass in masses:
        row = find_field(field)
        if row is not None and row.name in made[letter][_DEVICE]:
            made[letter][_DEVICE][row.name] += f" ({mass})"
    return made


def _where_one_suffices(lines: tuple[Line, ...]) -> tuple[Line, ...]:
    """What was read: the other was not asked."""
    return tuple(each for each in lines if each.text is not None)


def values_of(field: Shown, readings: Mapping[str, Answers]) -> dict[tuple[str, str], str | None]:
    """What each source says to each clinician, in the order of the sources."""
    return {
        (letter, source): field.said(used(readings[letter].get(source, {})))
        for source in field.row.sources
        for letter in LETTERS
    }


def _row_mark(findings: Sequence[Found], standing: Standing) -> Mark:
    if any(each.key in standing.exempt for each in findings):
        return Mark(shape="consider", word="EXCEPTION")
    worst = next((each for each in findings if each.severity != "note"), None)
    return mark_of(worst, standing.kind) if worst is not None else AGREES


_DIFFERENCES = frozenset(
    {"readings-differ", "order-differs-from-record", "label-differs", "device-differs", "patient-differs"}
)


def mark_of(found: Found, kind: Kind) -> Mark:
    """The mark of one finding: what it is, as a shape and a word that stay apart in grey and in one bit."""
    if found.severity != "stop":
        return Mark(shape="consider", word="CONSIDER")
    if found.code == "reading-missing":
        return Mark(shape="not-entered", word="NOT ENTERED")
    if found.code in _DIFFERENCES:
        times = loud_times(found.factor)
        return Mark(shape="differs", word=times or "DIFFERS", plate=found.factor if times else "")
    return Mark(shape="stop", word=severity_words(found.severity, kind, found.about))


def concentration_row(row: Row, result: Mapping[str, Any]) -> Row:
    """The agreed concentration as the engine computed it, with what each source says beneath."""
    shown = {
        (letter, Source.DEVICE.value): (result["math"][letter]["device"]["concentration"] or {}).get("shown")
        for letter in LETTERS
    }
    agreed = lines_of(shown)
    if len(agreed) > 1 or agreed[0].text is None or row.mark is None or row.mark.shape == "differs":
        return row
    sources = tuple(
        each for line in row.lines if line.text not in WITHOUT_ONE.values() for each in line.sources
    )
    return Row(
        label=row.label,
        lines=(Line(who="", sources=sources, text=agreed[0].text),),
        written=row.lines,
        mark=row.mark,
    )
