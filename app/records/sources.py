"""What a source is, and everything that the table of fields says of one thing that is read.

An answer is text: a quantity as typed (`1 mg`), a choice, a date, or the word `none` where the source says
that there is none. Blank means *not read* and is never the same as none.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

from app.records.measures import Measure

NONE = "none"


class Source(StrEnum):
    """Where a clinician looks, in the order in which it is read."""

    WRISTBAND = "wristband"
    CHART = "chart"
    ORDER = "order"
    LABEL = "label"
    DEVICE = "device"
    MONITOR = "monitor"
    TOTALS = "totals"
    BEDSIDE = "bedside"


# What is set or written, and can be put right; the others tell what happens.
CAN_BE_PUT_RIGHT = tuple(each for each in Source if each not in (Source.TOTALS, Source.BEDSIDE))


class Form(StrEnum):
    """What an answer looks like."""

    TEXT = "text"
    NAME = "name"
    CODE = "code"
    DATE = "date"
    MOMENT = "moment"
    QUANTITY = "quantity"
    COUNT = "count"
    CHOICE = "choice"
    DRUG = "drug"
    FLUID = "fluid"
    PACK = "pack"
    LEVEL = "level"


class JudgedBy(StrEnum):
    """Who judges what was read, the patient first; what each does stands in `app.judging`."""

    ENGINE = "engine"
    READ_ALIKE = "read-alike"
    NONE_IS_AN_ANSWER = "none-is-an-answer"
    RUNS_ELSEWHERE = "runs-elsewhere"
    ORDERS = "orders"
    PRIMING = "priming"
    ACCOUNT = "account"
    IN_FORCE = "in-force"
    PROTOCOL = "protocol"
    ISSUED = "issued"
    LOADED_AGAIN = "loaded-again"
    ON_DEVICE = "on-device"
    # What is read for people, and compared with nothing.
    NOBODY = "nobody"


@dataclass(frozen=True, kw_only=True)
class AskedWhen:
    """Another answer of the same source, and which of them make this field asked; none named: any but *none*.

    `while_blank`: it is asked also as long as the other is not answered. `else_idle`: what was answered all
    the same does not count.
    """

    field: str
    among: tuple[str, ...] = ()
    while_blank: bool = True
    else_idle: bool = True

    def asks(self, answers: Mapping[str, str]) -> bool:
        """Whether the field is asked, given the same source's other answers."""
        answer = answers.get(self.field)
        return self._is_among(answer) if answer else self.while_blank

    def makes_idle(self, answers: Mapping[str, str]) -> bool:
        """Whether an answer to the field does not count, given the same source's other answers."""
        answer = answers.get(self.field)
        return bool(answer) and self.else_idle and not self._is_among(str(answer))

    def _is_among(self, answer: str) -> bool:
        return answer in self.among if self.among else answer != NONE


@dataclass(frozen=True, kw_only=True)
class Field:
    """One thing that is read: a row of the table.

    `label` stands on a form, `words` in a sentence. `found_as` is its name in findings and its place in the
    engine's case, where it is not its own. `none` says how *none* is said; blank: that is no answer. `row` is
    the field in whose row of a comparison it stands. `label_stands_in`: where the order does not give it, it
    is the label's that counts. `from_scan`: a scan may fill it in. `last_look`: it is looked at once more
    before starting. `from_one`: one of the two suffices, so that only the first nurse is asked; the other may
    give it too, and then both count. `by_policy`: asked where the site's policy says so; what neither read is
    not on the record. `by_kind`: asked where the kind of check names it. `stamped`: nobody types it, it is
    when the page was kept. Nothing is read that nobody judges: `judged_by` has no default, and is never
    empty.
    """

    name: str
    label: str
    words: str
    sources: tuple[Source, ...]
    form: Form
    judged_by: tuple[JudgedBy, ...]
    measure: Measure | None = None
    measure_in: Mapping[Source, Measure] = field(default_factory=dict)
    choices: tuple[str, ...] = ()
    choices_in: Mapping[Source, tuple[str, ...]] = field(default_factory=dict)
    none: str = ""
    none_in: Mapping[Source, str] = field(default_factory=dict)
    optional: bool = False
    asked_when: AskedWhen | None = None
    read_with: tuple[str, ...] = ()
    row: str = ""
    found_as: str = ""
    label_stands_in: bool = False
    from_scan: bool = False
    last_look: bool = False
    from_one: bool = False
    by_policy: bool = False
    by_kind: bool = False
    stamped: bool = False
    hint: str = ""
    hint_in: Mapping[Source, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not self.judged_by:
            raise ValueError(f"nobody judges {self.name}")

    @property
    def number(self) -> Measure:
        """What its number can be; of a field that is no quantity it is a bug to ask."""
        assert self.measure is not None  # noqa: S101
        return self.measure

    @property
    def units(self) -> tuple[str, ...]:
        """The units to choose from; none of what is no quantity."""
        if self.measure is None:
            return ()
        return self.measure.units + (self.measure.or_else.units if self.measure.or_else else ())

    @property
    def may_be_none(self) -> bool:
        """Whether *none* is an answer."""
        return bool(self.none)

    @cached_property
    def finding(self) -> str:
        """Its name in findings and its place in the engine's case: `limit.amount`, `chart.allergy`, `lot`."""
        prefix = _OWN_NAMES.get(self.sources[0])
        return self.found_as or (f"{prefix}.{self.name}" if prefix else self.name)

    @property
    def is_compared(self) -> bool:
        """Whether anything is compared with it: of a patient's name nothing is."""
        return self.judged_by != (JudgedBy.NOBODY,)

    @property
    def row_name(self) -> str:
        """The field in whose row of a comparison it stands: mostly its own."""
        return self.row or self.name


# What is read from one of these is read from no other, and says so in its name.
_OWN_NAMES = {
    Source.WRISTBAND: "patient",
    Source.CHART: "chart",
    Source.MONITOR: "monitor",
    Source.TOTALS: "totals",
    Source.BEDSIDE: "bedside",
}
