"""What somebody has written and not handed in: sealed for its author alone, forgotten, or carried on."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from app.base import Act
from app.keys import open_envelope, seal
from app.records.kept import SOURCES, TYPING, Draft
from app.records.reading import Answers
from app.records.sealed import Opened, draft_content, draft_context, opened
from app.site.installation import Site
from app.storage import Reader, Transaction

_SUBJECTS = (SOURCES, TYPING)


@dataclass(frozen=True, kw_only=True)
class Place:
    """Whose draft it is, of which check and round."""

    check: str
    round: int
    person: str


@dataclass(frozen=True, kw_only=True)
class Written:
    """What one person has written in one round: the answers that count, and what was left in the inputs.

    `version` is that of the answers, 0 where none are stored; `kept` says of each source that its author has
    kept at which version that was.
    """

    answers: Answers = field(default_factory=dict)
    version: int = 0
    kept: Mapping[str, int] = field(default_factory=dict)
    typed: Answers = field(default_factory=dict)


def written(site: Site, reader: Reader, place: Place) -> Written:
    """What stands in a person's drafts of a round; only for their author, and to carry it on."""
    drafts = reader.drafts(place.check, place.round, place.person)
    answers, typed = (_opened(site, drafts.get(subject)) for subject in _SUBJECTS)
    version = drafts[SOURCES].version if SOURCES in drafts else 0
    return Written(answers=answers.answers, version=version, kept=answers.kept, typed=typed.answers)


def _opened(site: Site, draft: Draft | None) -> Opened:
    return Opened(salt="", answers={}) if draft is None else opened_draft(site, draft)


def find_draft(reader: Reader, place: Place, subject: str) -> Draft | None:
    """A person's draft of one subject in a round."""
    return reader.drafts(place.check, place.round, place.person).get(subject)


def opened_draft(site: Site, draft: Draft) -> Opened:
    """What stands in a draft; only for its author."""
    context = draft_context(draft.check, draft.subject, draft.round, draft.person)
    return opened(open_envelope(site.key, context, draft.envelope))


def content_of_typed(act: Act, typed: Answers) -> bytes:
    """What stands in the inputs, as it is sealed."""
    return draft_content(salt=act.new_id(), answers=typed, kept={})


def sealed_draft(site: Site, act: Act, place: Place, subject: str, *, version: int, content: bytes) -> Draft:
    """A draft as it is kept."""
    context = draft_context(place.check, subject, place.round, place.person)
    return Draft(
        check=place.check,
        subject=subject,
        round=place.round,
        person=place.person,
        version=version,
        envelope=seal(site.key, context, content),
        saved_at=act.now,
    )


def replace_typed(site: Site, tx: Transaction, act: Act, place: Place, *, content: bytes) -> None:
    """The last word counts: there is one author, and the check's row is held."""
    tx.delete_drafts(place.check, TYPING, place.round, place.person)
    tx.save_draft(sealed_draft(site, act, place, TYPING, version=1, content=content), expected_version=0)


def forget_drafts(tx: Transaction, check_id: str, number: int, person: str | None = None) -> None:
    """Forget what was written in a round and not handed in, by both or by one."""
    for subject in _SUBJECTS:
        tx.delete_drafts(check_id, subject, number, person)


def carry_on(
    site: Site,
    tx: Transaction,
    act: Act,
    people: Iterable[str],
    *,
    check: str,
    number: int,
    but: Iterable[str],
) -> None:
    """Seal what each had written anew for the next round, but for some sources; then forget the round.

    As much is sealed and stored for whoever had written nothing, or had handed in: neither a clock nor the
    tables tell who of the two had.
    """
    gone = set(but)

    def rest(of: Mapping[str, Any]) -> dict[str, Any]:
        return {source: told for source, told in of.items() if source not in gone}

    for person in people:
        had = written(site, tx, Place(check=check, round=number, person=person))
        place = Place(check=check, round=number + 1, person=person)
        content = draft_content(salt=act.new_id(), answers=rest(had.answers), kept=rest(had.kept))
        draft = sealed_draft(site, act, place, SOURCES, version=had.version + 1, content=content)
        tx.save_draft(draft, expected_version=0)
        replace_typed(site, tx, act, place, content=content_of_typed(act, rest(had.typed)))
    forget_drafts(tx, check, number)
