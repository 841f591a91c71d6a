"""What is judged beside the engine: what was not read, what must be read alike, and *none* against something.

The engine lets a source that does not give a field take no part in it. At the bedside *none* is an answer of
its own: where one clinician read a carrier and the other that there is none, the readings differ; where none
is ordered and one runs, the device is not the order.
"""

import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from app.judging.findings import stop
from app.records.account_entries import over_barrel
from app.records.fields import field_of, fields_judged_by
from app.records.followup import Follow, Found, differing_sources, sources_of
from app.records.kept import FIRST, SECOND
from app.records.kinds import Kind
from app.records.reading import Answers, missing
from app.records.sources import NONE, Field, Form, JudgedBy, Source

_SIZE = field_of(Source.LABEL, "syringe_size")
# The codes that say that readings or sources are not alike.
_NOT_ALIKE = frozenset(
    {
        "reading-missing",
        "readings-differ",
        "label-differs",
        "device-differs",
        "not-in-force",
    }
)


def not_said_before(found: Iterable[Found], already: Iterable[Found]) -> tuple[Found, ...]:
    """The stops of our own that no other judge has found.

    Only what says that readings or sources disagree says the same as ours. A field that breaks a rule, and
    that the two read differently besides, must not come down to the rule, which can be set aside.
    """
    said = {
        (each.field, source)
        for each in already
        if each.code in _NOT_ALIKE
        for source in (differing_sources(each) if each.follow is Follow.READ_AGAIN else sources_of(each))
    }
    return tuple(each for each in found if not {(each.field, source) for source in sources_of(each)} <= said)


def not_read(kind: Kind, first: Answers, second: Answers) -> Iterator[Found]:
    """What is asked and was not read by whoever is asked; of the chart the engine says what is needed."""
    # What a site asks for besides must be read by both as soon as one of them has; what neither read is not
    # on the record.
    read = {name for answers in (first, second) for given in answers.values() for name in given}
    read.update(kind.also_reads)
    lacking = {
        *missing(kind.reads_of(FIRST), first, {}, also_read=read),
        *missing(kind.reads_of(SECOND), second, {}, slot=SECOND, also_read=read),
    }
    for named, name in sorted(lacking):
        source = Source(named)
        # Where the first nurse did not read what one suffices for, the other may have.
        is_given = field_of(source, name).from_one and bool(second.get(source, {}).get(name))
        if source is not Source.CHART and not is_given:
            yield stop(
                code="reading-missing",
                field=field_of(source, name).finding,
                readings=_pair(first, second, source, name),
                says="At least one of the two did not read this.",
                origin="reading",
            )


def over_its_barrel(case: Mapping[str, Any], answers: Mapping[str, Answers]) -> Iterator[Found]:
    """A syringe holds no more than its barrel: label or size was read wrongly, or the label is wrong."""
    said = over_barrel(case, answers)
    if said is None:
        return
    volume, size = said
    yield stop(
        code="label-over-barrel",
        field=_SIZE.finding,
        readings={f"{letter}.{Source.LABEL}": size for letter in answers},
        says=f"The label says {volume}, and the barrel holds {size}.",
        origin="",
    )


def read_alike(first: Answers, second: Answers) -> Iterator[Found]:
    """What must be the same for both."""
    for source, field in fields_judged_by(JudgedBy.READ_ALIKE):
        one, other = _both(first, second, source, field)
        if one and other and not _is_alike(field, one, other):
            yield _differing(first, second, source, field)


def _is_alike(field: Field, one: str, other: str) -> bool:
    """A number is one however it is set: without regard to case, spaces and hyphens."""
    if field.form is not Form.TEXT:
        return one == other
    return _without_setting(one) == _without_setting(other)


def _without_setting(number: str) -> list[str]:
    # Spaces and hyphens of every kind: separators (Z) and dashes (Pd).
    return [each for each in number.casefold() if not unicodedata.category(each).startswith(("Z", "Pd"))]


def none_is_an_answer(first: Answers, second: Answers) -> Iterator[Found]:
    """*None* for one and something for the other, in one source; and then in the order and on the device."""
    fields = tuple(fields_judged_by(JudgedBy.NONE_IS_AN_ANSWER))
    for source, field in fields:
        one, other = _both(first, second, source, field)
        if one and other and (one == NONE) != (other == NONE):
            yield _differing(first, second, source, field)
    for source, field in fields:
        if source is Source.DEVICE and Source.ORDER in field.sources:
            yield from _ordered_or_set(first, second, field)


def _ordered_or_set(first: Answers, second: Answers, field: Field) -> Iterator[Found]:
    """Something ordered and none set, or the reverse, when each source is read alike by both."""
    ordered, running = (
        _read_by_both(first, second, source, field) for source in (Source.ORDER, Source.DEVICE)
    )
    if not ordered or not running or (ordered == NONE) == (running == NONE):
        return
    what = field.none.removeprefix("No ")
    yield stop(
        code="device-differs",
        field=field.finding,
        readings={
            **_pair(first, second, Source.ORDER, field.name),
            **_pair(first, second, Source.DEVICE, field.name),
        },
        says=(
            f"No {what} is ordered, and one is set to run."
            if ordered == NONE
            else f"A {what} is ordered, and none is set to run."
        ),
        origin="programming",
    )


def _read_by_both(first: Answers, second: Answers, source: Source, field: Field) -> str | None:
    """What both read alike; None where they did not."""
    one, other = _both(first, second, source, field)
    return one if one == other else None


def _differing(first: Answers, second: Answers, source: Source, field: Field) -> Found:
    return stop(
        code="readings-differ",
        field=field.finding,
        readings=_pair(first, second, source, field.name),
        says=f"The two readings of the {source} do not agree on this.",
        origin="reading",
    )


def _both(first: Answers, second: Answers, source: Source, field: Field) -> tuple[str | None, str | None]:
    return first.get(source, {}).get(field.name), second.get(source, {}).get(field.name)


def _pair(first: Answers, second: Answers, source: Source, name: str) -> dict[str, str | None]:
    return {
        f"A.{source}": first.get(source, {}).get(name),
        f"B.{source}": second.get(source, {}).get(name),
    }
