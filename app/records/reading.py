"""A clinician's reading: which fields a round asks for, what is missing, and each field's latest value."""

from collections.abc import Collection, Iterable, Mapping

from app.records.fields import FIELDS, field_named
from app.records.kept import FIRST, SECOND
from app.records.sources import CAN_BE_PUT_RIGHT, Field, Source

Answers = dict[str, dict[str, str]]
Scope = tuple[tuple[str, tuple[str, ...]], ...]

WHOLE: Scope = tuple((source.value, ()) for source in CAN_BE_PUT_RIGHT)


def fields_in(scope: Scope, source: Source) -> tuple[Field, ...]:
    """The fields of one source that are in this scope, at any site; none when the source is not in it."""
    for name, fields in scope:
        if name == source.value:
            return tuple(each for each in FIELDS[source] if not fields or each.name in fields)
    return ()


def within(scope: Scope, part: Scope) -> Scope:
    """What of a scope belongs to a part of it: the fields that both name, or all that either names."""
    of_part, made = dict(part), []
    for name, fields in scope:
        its = of_part.get(name)
        if its is None:
            continue
        both = tuple(each for each in fields if each in its) if fields and its else fields or its
        # To name nothing is to name all of it.
        if both or not (fields or its):
            made.append((name, both))
    return tuple(made)


def asked_in(scope: Scope, source: Source, also_read: Collection[str]) -> tuple[Field, ...]:
    """The fields of one source that this scope asks for; `also_read` is what site and kind name besides.

    What is named one by one was read before, and is read again.
    """
    is_named = bool(dict(scope).get(source.value))
    return tuple(
        each
        for each in fields_in(scope, source)
        if is_named or not (each.by_policy or each.by_kind) or each.name in also_read
    )


def asked_of(
    slot: int, scope: Scope, source: Source, *, is_scanned: bool, also_read: Collection[str] = ()
) -> tuple[Field, ...]:
    """The fields that one of the two is asked for: what one suffices for, of the first nurse alone.

    `is_scanned`: where labels are scanned here, both scan. What is named one by one is read again by both.
    """
    fields = asked_in(scope, source, also_read)
    if slot != SECOND or dict(scope).get(source.value):
        return fields
    return tuple(each for each in fields if not each.from_one or (is_scanned and each.from_scan))


def sources_in(scope: Scope) -> tuple[Source, ...]:
    """The sources of a scope, in the order in which they are read."""
    return tuple(Source(name) for name, _ in scope)


def with_whole(scope: Scope, named: Iterable[str]) -> Scope:
    """The same scope, with all of each source that is named."""
    asked = {**dict(scope), **dict.fromkeys(named, ())}
    return tuple((source.value, asked[source.value]) for source in Source if source.value in asked)


def is_asked(field: Field, answers: Mapping[str, str]) -> bool:
    """Whether this field is needed, given the same source's other answers."""
    if field.optional:
        return False
    return field.asked_when is None or field.asked_when.asks(answers)


def missing(  # who is asked for what, and where
    scope: Scope,
    answers: Answers,
    before: Answers,
    *,
    slot: int = FIRST,
    is_scanned: bool = False,
    also_read: Collection[str] = (),
) -> tuple[tuple[str, str], ...]:
    """The (source, field) pairs that this scope asks one of the two for and that were not read.

    `before` is the same clinician's latest earlier answers: a mode read earlier decides what is asked now.
    """
    lacking = []
    for source in sources_in(scope):
        given = answers.get(source.value, {})
        known = {**before.get(source.value, {}), **given}
        lacking += [
            (source.value, field.name)
            for field in asked_of(slot, scope, source, is_scanned=is_scanned, also_read=also_read)
            if is_asked(field, known) and not given.get(field.name)
        ]
    return tuple(lacking)


def latest(readings: Iterable[tuple[Scope, Answers]]) -> Answers:
    """Each field's latest handed-in value; a field that was read again and left blank is not read."""
    merged: Answers = {}
    for scope, answers in readings:
        for source in sources_in(scope):
            kept = merged.setdefault(source.value, {})
            for field in fields_in(scope, source):
                kept.pop(field.name, None)
            kept.update({name: text for name, text in answers.get(source.value, {}).items() if text})
    return merged


def in_scope(scope: Scope, answers: Answers, also_read: Collection[str] = ()) -> Answers:
    """The answers that the scope asks for and nothing else: a forged field cannot ride along."""
    kept: Answers = {}
    for source in sources_in(scope):
        names = {field.name for field in asked_in(scope, source, also_read)}
        given = answers.get(source.value, {})
        kept[source.value] = {name: text for name, text in given.items() if name in names and text}
    return kept


def used(answers: Mapping[str, str]) -> dict[str, str]:
    """One source's answers without those that its own choices make idle (a rate where no carrier runs)."""
    return {name: text for name, text in answers.items() if not _is_idle(name, answers)}


def _is_idle(name: str, answers: Mapping[str, str]) -> bool:
    asked_when = field_named(name).asked_when
    return asked_when is not None and (asked_when.makes_idle(answers) or _is_idle(asked_when.field, answers))


NAMES: tuple[tuple[Source, Field], ...] = tuple(
    (source, each) for source, fields in FIELDS.items() for each in fields if not each.is_compared
)
"""What is read for people and compared with nothing: the patient's name, the prescriber's."""


def names_read(answers: Mapping[str, Answers], source: Source, field: Field) -> dict[str, str]:
    """What each read as a name, by letter; nobody had to read it."""
    read = {letter: given.get(source.value, {}).get(field.name) for letter, given in answers.items()}
    return {letter: name for letter, name in read.items() if name}
