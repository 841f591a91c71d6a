"""What the engine has no part in: the line set in use, and *none* against something.

The engine lets a source that does not give a field take no part in it. At the bedside *none* is an answer of
its own: where one clinician read a carrier and the other that there is none, the readings differ; where none
is ordered and one runs, the device is not the order.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from app.records.canonical import canonical, digest
from app.records.fields import field_of, fields_judged_by
from app.records.followup import Follow, Found, differing_sources, sources_of
from app.records.reading import WHOLE, Answers, missing
from app.records.sources import NONE, JudgedBy, Source


def found(
    *,
    code: str,
    field: str,
    readings: Mapping[str, str | None],
    says: str,
    clinician: str = "",
    origin: str = "",
) -> Found:
    """A stop of our own, keyed like every other."""
    return Found(
        key=finding_key(code=code, field=field, clinician=clinician, readings=readings, says=says),
        code=code,
        severity="stop",
        field=field,
        clinician=clinician,
        readings=dict(readings),
        says=says,
        slip="",
        factor="",
        origin=origin,
    )


def finding_key(
    *, code: str, field: str, clinician: str, readings: Mapping[str, str | None], says: str
) -> str:
    """A name for a finding that stays the same exactly as long as what it is about stays the same.

    What it says belongs to it: the consequence in dose may grow while the field's own readings stand, and
    what was acknowledged or set aside was the smaller one.
    """
    about = {"code": code, "field": field, "clinician": clinician, "readings": dict(readings), "says": says}
    return digest(canonical(about))[:16]


def salted(findings: Iterable[Found], salt: str) -> tuple[Found, ...]:
    """The findings under names that tell nothing where they stand without the comparison, as in the log.

    Plausible readings are few enough to try them all against a digest. Comparisons from before have no salt,
    and the names in them stand.
    """
    if not salt:
        return tuple(findings)
    return tuple(replace(each, key=digest(f"{salt} {each.key}".encode())[:16]) for each in findings)


# The codes that say that readings or sources are not alike.
_NOT_ALIKE = frozenset({"reading-missing", "readings-differ", "label-differs", "device-differs"})


def plain_findings(first: Answers, second: Answers, already: Iterable[Found]) -> tuple[Found, ...]:
    """The stops that the engine leaves to us; `already` are its own, which are not said twice."""
    # Only what says that readings or sources disagree says the same as ours. A field that breaks a rule, and
    # that the two read differently besides, must not come down to the rule, which can be set aside.
    said = {
        (each.field, source)
        for each in already
        if each.code in _NOT_ALIKE
        for source in (differing_sources(each) if each.follow is Follow.READ_AGAIN else sources_of(each))
    }
    mine = (*_missing(first, second), *_differing(first, second), *_carrier(first, second))
    return tuple(each for each in mine if not {(each.field, source) for source in sources_of(each)} <= said)


def _missing(first: Answers, second: Answers) -> Iterable[Found]:
    lacking = {*missing(WHOLE, first, {}), *missing(WHOLE, second, {})}
    # The chart's own rules speak of what is missing there.
    for source, name in sorted(lacking):
        if source != Source.CHART.value:
            yield found(
                code="reading-missing",
                field=field_of(Source(source), name).finding,
                readings=_pair(first, second, source, name),
                says="At least one of the two did not read this.",
                origin="reading",
            )


def _differing(first: Answers, second: Answers) -> Iterable[Found]:
    for source, field in (
        *fields_judged_by(JudgedBy.READ_ALIKE),
        *fields_judged_by(JudgedBy.NONE_IS_AN_ANSWER),
    ):
        one, other = first.get(source, {}).get(field.name), second.get(source, {}).get(field.name)
        if not one or not other or one == other:
            continue
        if JudgedBy.READ_ALIKE in field.judged_by or NONE in (one, other):
            yield found(
                code="readings-differ",
                field=field.finding,
                readings=_pair(first, second, source, field.name),
                says=f"The two readings of the {source} do not agree on this.",
                origin="reading",
            )


def _carrier(first: Answers, second: Answers) -> Iterable[Found]:
    """A carrier ordered and none running, or the reverse, when each source is read alike by both."""
    read = [
        (answers.get("order", {}).get("carrier_fluid"), answers.get("device", {}).get("carrier_fluid"))
        for answers in (first, second)
    ]
    if read[0] != read[1] or None in read[0]:
        return
    ordered, running = read[0]
    if (ordered == NONE) != (running == NONE):
        says = (
            "No carrier is ordered, and one is set to run."
            if ordered == NONE
            else "A carrier is ordered, and none is set to run."
        )
        readings = {
            **_pair(first, second, "order", "carrier_fluid"),
            **_pair(first, second, "device", "carrier_fluid"),
        }
        yield found(
            code="device-differs", field="carrier.fluid", readings=readings, says=says, origin="programming"
        )


def _pair(first: Answers, second: Answers, source: str, name: str) -> dict[str, str | None]:
    return {
        f"A.{source}": first.get(source, {}).get(name),
        f"B.{source}": second.get(source, {}).get(name),
    }
