"""What runs beside what is in force: where it is another than two signed, it was changed, or one misread it.

What one of the two alone read says nothing yet: both read it again, and only then it counts as changed.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Any

from app.judging.engine import evaluated
from app.judging.findings import stop
from app.records.case import build_case
from app.records.followup import Follow, Found, Severity, sources_of
from app.records.kept import LETTERS, B
from app.records.known import NOTHING_KNOWN, Known
from app.records.sources import Source

_HELD_BESIDE = (Source.LABEL, Source.DEVICE)
_IN_FORCE = "in force"
# That a source says something else than another does.
_OTHERWISE = frozenset({"label-differs", "device-differs", "patient-differs"})


def not_in_force(read: Mapping[str, Any], known: Known, by_one: Collection[Source]) -> Iterator[Found]:
    """Each field of label and device that was read otherwise than it is in force; `read` is an entry.

    The engine says whether two ways of writing are one value, as if what is in force had been read beside.
    """
    held = {Source.LABEL: known.syringe, Source.DEVICE: known.previous}
    sources = [each for each in _HELD_BESIDE if each.value in read]
    in_force = {each.value: _of_those_read(held[each], read[each.value]) for each in sources}
    reads = tuple((each.value, ()) for each in sources)
    now = {each.value: read[each.value] for each in sources}
    entries = {"clinician": _IN_FORCE, **in_force}, {"clinician": B, **now}
    _, result = evaluated(
        build_case(entries=entries, policy={}, library={}, known=NOTHING_KNOWN, reads=reads)
    )
    for found in result.findings:
        if found.code == "readings-differ":
            for source in sources:
                was, is_read = (found.readings.get(f"{letter}.{source}") for letter in LETTERS)
                if was != is_read:
                    yield _differs(found.field, source, {"was": was, "now": is_read}, by_one)


def _of_those_read(held: Mapping[str, Any], read: Mapping[str, Any]) -> dict[str, Any]:
    """What is in force of what was read: the rest takes no part."""
    both = {key: held[key] for key in read if key in held}
    # How much is in the barrel changes; the strength it was filled to does not.
    return {**both, **{key: held[key] for key in ("amount", "volume", "concentration") if key in held}}


def looked_at_again(found: Iterable[Found], by_one: Collection[Source]) -> Iterator[Found]:
    """The engine's stops, of which what is put right is first read again, where one alone read it.

    Whether it may be so at all was judged by the site's rules when it was put in force.
    """
    for each in found:
        if each.severity != Severity.STOP or each.follow is Follow.RULE:
            continue
        alone = [Source(name) for name in sources_of(each) if Source(name) in by_one]
        if each.follow is Follow.READ_AGAIN or not alone:
            yield each
            continue
        # What follows from a value, as a limit below the dose, would tell of the value: it is named itself.
        for source in alone if each.code in _OTHERWISE else ():
            yield _differs(each.field, source, {"now": _now(each, source)}, by_one)


def _now(found: Found, source: Source) -> str | None:
    read = (found.readings.get(f"{letter}.{source}") for letter in LETTERS)
    return next((text for text in read if text is not None), None)


def _differs(field: str, source: Source, read: Mapping[str, str | None], by_one: Collection[Source]) -> Found:
    was = f": {read['was']} was checked" if read.get("was") else ""
    says = f"The {source.value} is read otherwise than two nurses last checked it{was}."
    if source in by_one:
        return stop(
            code="not-in-force",
            field=field,
            readings={f"A.{source}": None, f"B.{source}": read["now"]},
            says=f"{says} One read it so: both read it again.",
            origin="reading",
        )
    return stop(
        code="changed-since",
        field=field,
        readings={f"{letter}.{source}": read["now"] for letter in LETTERS},
        says=says,
        origin="",
    )
