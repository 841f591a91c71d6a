"""What a sheet of paper asks in place of the reading pages: the same fields, drawn from the one table.

No value stands on it but what the pages offer too: whoever fills it in reads alone.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from app.quantities import exact
from app.records.field_table import LIMITS, STRENGTHS_WITHOUT_ONE
from app.records.fields import FIELDS, field_named
from app.records.rules import LIBRARY, PACKS, Rules
from app.records.sources import Field, Form, Source
from app.words.names import answer_words

# More to choose from than this is written in, by name.
_MOST_TICKS = 8
_HOUR = Fraction(60)


@dataclass(frozen=True, kw_only=True)
class Blank:
    """One answer to be written: what there is to tick, whether there is a line, and its units.

    `says` joins it to what stands before it in its row.
    """

    says: str
    ticks: tuple[str, ...]
    line: bool
    units: tuple[str, ...]
    none: str

    @property
    def is_one(self) -> bool:
        """Whether there is anything to tick or to write."""
        return bool(self.ticks) or self.line


@dataclass(frozen=True, kw_only=True)
class SheetRow:
    """One row of a sheet: what is asked of each source that has it; `range` is of its number."""

    name: str
    label: str
    range: str
    blanks: Mapping[Source, tuple[Blank, ...]]

    @property
    def only(self) -> Source | None:
        """The one source that has it, where no other does."""
        (first, *others) = self.blanks
        return None if others else first

    @property
    def is_short(self) -> bool:
        """Whether one line is all that it asks for, from one source."""
        return self.only is not None and all(
            len(each) == 1 and each[0].line and not each[0].ticks for each in self.blanks.values()
        )


@dataclass(frozen=True, kw_only=True)
class PaperSheet:
    """Everything that one of the two writes; `on_label` is what the label has beside order and device.

    `short` are lines of one source alone, `settings` what order and device have.
    """

    wristband: tuple[SheetRow, ...]
    chart: tuple[SheetRow, ...]
    short: tuple[SheetRow, ...]
    on_label: tuple[SheetRow, ...]
    settings: tuple[SheetRow, ...]
    monitor: tuple[SheetRow, ...]


def paper_sheet(rules: Rules) -> PaperSheet:
    """The sheet by these rules: what they offer, and the fields that they ask for."""
    rows = _rows((Source.ORDER, Source.LABEL, Source.DEVICE), rules)
    short = tuple(each for each in rows if each.is_short)
    beside = tuple(each for each in rows if not each.is_short)
    return PaperSheet(
        wristband=_rows((Source.WRISTBAND,), rules),
        chart=_rows((Source.CHART,), rules),
        short=short,
        on_label=tuple(each for each in beside if Source.LABEL in each.blanks),
        settings=tuple(each for each in beside if Source.LABEL not in each.blanks),
        monitor=_rows((Source.MONITOR,), rules),
    )


# What is typed in later of a sheet: whose it was, and what was ordered, in the syringe and set.
TYPED_IN = (Source.WRISTBAND, Source.ORDER, Source.LABEL, Source.DEVICE)


def typed_in(rules: Rules) -> tuple[tuple[Source, SheetRow], ...]:
    """The lines of a sheet that are typed in when the program is back, source by source; no name is."""
    sheet = paper_sheet(rules)
    rows = (*sheet.wristband, *sheet.short, *sheet.on_label, *sheet.settings)
    asked = [row for row in rows if field_named(row.name).form is not Form.NAME]
    return tuple((source, row) for source in TYPED_IN for row in asked if source in row.blanks)


def _rows(sources: tuple[Source, ...], rules: Rules) -> tuple[SheetRow, ...]:
    """One row a line of the comparison, the sources of each side by side."""
    found: dict[str, dict[Source, list[Field]]] = {}
    for name in _in_order(sources):
        for source in sources:
            for each in FIELDS[source]:
                if each.name == name and _is_asked(each, rules):
                    found.setdefault(_line_of(each), {}).setdefault(source, []).append(each)
    return tuple(_said_once(_row(name, fields, rules) for name, fields in found.items()))


def _said_once(rows: Iterable[SheetRow]) -> Iterator[SheetRow]:
    """A range that rows share stands beside the first: all limits have windows of the same lengths."""
    said: set[str] = set()
    for each in rows:
        yield replace(each, range="") if each.range in said else each
        said.add(each.range)


def _in_order(sources: tuple[Source, ...]) -> Iterable[str]:
    """The names of the fields, those of the first source in their order, then what the next have beside."""
    return dict.fromkeys(each.name for source in sources for each in FIELDS[source])


def _is_asked(field: Field, rules: Rules) -> bool:
    """A code is for a scanner; what only some sites ask for, where they do. It is a sheet of a set-up."""
    if field.form is Form.CODE or field.by_kind:
        return False
    return not field.by_policy or field.name in rules.policy.also_read


_WINDOW_OF = {window: amount for amount, window in LIMITS}
_AMOUNTS = frozenset(amount for amount, _ in LIMITS)


def _line_of(field: Field) -> str:
    """The row of a sheet that a field stands in: each limit, with its window, has one."""
    amount = _WINDOW_OF.get(field.name, field.name)
    return amount if amount in _AMOUNTS else field.row_name


def _row(name: str, fields: Mapping[Source, list[Field]], rules: Rules) -> SheetRow:
    shared = any(len(of_source) > 1 for of_source in fields.values())
    return SheetRow(
        name=name,
        label=field_named(name).label,
        range=_range_of(one for each in fields.values() for one in each),
        blanks={
            source: tuple(
                blank
                for each in of_source
                if (blank := _blank(each, rules, says=_JOINED.get(each.name, "") if shared else "")).is_one
            )
            for source, of_source in fields.items()
        },
    )


# What stands before the second and later answers of a row, as it would be said.
_JOINED: Mapping[str, str] = {
    "volume": "in",
    "concentration": "or",
    "staff_bolus_interval": "every",
    "staff_bolus_most": "at most",
    "staff_bolus_window": "in",
    **dict.fromkeys(_WINDOW_OF, "in"),
}


def _blank(field: Field, rules: Rules, *, says: str) -> Blank:
    ticks = _ticks(field, rules)
    few = len(ticks) <= _MOST_TICKS
    other = field.form in {Form.DRUG, Form.FLUID}
    writes = field.form in {Form.TEXT, Form.NAME, Form.DATE, Form.MOMENT, Form.QUANTITY}
    return Blank(
        says=says,
        ticks=ticks if few else (),
        line=writes or other or not few,
        units=field.units,
        none=field.none,
    )


def _ticks(field: Field, rules: Rules) -> tuple[str, ...]:
    match field.form:
        case Form.CHOICE if field.name == "strength":
            # How it is written shows in what is written; only that nothing is must be said.
            return tuple(answer_words(each) for each in field.choices if each in STRENGTHS_WITHOUT_ONE)
        case Form.CHOICE:
            return tuple(answer_words(each) for each in field.choices)
        case Form.DRUG:
            return tuple(rules.content(LIBRARY)["drugs"])
        case Form.FLUID:
            return tuple(rules.policy.engine.get("carrier_fluids", ()))
        case Form.PACK:
            return tuple(each["words"] for each in rules.content(PACKS)["packs"])
        case _:
            return ()


def _range_of(fields: Iterable[Field]) -> str:
    """The one range of a row; where it has two nobody could tell which is of what."""
    found = {said for each in fields if (said := _range(each))}
    return found.pop() if len(found) == 1 else ""


def _range(field: Field) -> str:
    allowed = field.measure.allowed if field.measure else None
    return f"{_time(allowed.least)} to {_time(allowed.most)}" if allowed else ""


def _time(minutes: Fraction) -> str:
    return f"{exact(minutes / _HOUR)} h" if minutes % _HOUR == 0 else f"{exact(minutes)} min"
