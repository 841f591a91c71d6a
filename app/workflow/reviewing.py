"""One finding of a check that has ended: look at it, look through it, give it to somebody, classify it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from app.base import Act
from app.people import Permission, Role, may
from app.records.followup import Found, findings_in
from app.records.kept import PRIMING, SOURCES, Entry, KeptComparison
from app.records.kept_reviews import (
    ASSIGNED,
    CATEGORIES,
    COMMENTED,
    READERS,
    REVIEWED,
    SECOND_PLACE,
    Classification,
    FindingReview,
    reviews_shown_to,
    shown_to,
)
from app.records.kept_rows import EndedRow, FindingRow, SettledRow
from app.records.reached import reached
from app.records.review_events import FindingAssigned, FindingClassified, FindingCommented, FindingReviewed
from app.records.visibility import Sight
from app.site.installation import Site
from app.storage import Reader, Transaction
from app.workflow.findings import unit_of
from app.workflow.looking import Seen, note_access, see_in
from app.workflow.refusals import Incomplete, NotAllowed, NotFound

_Row = TypeVar("_Row", FindingRow, SettledRow)

FACTORS = (
    "interrupted",
    "alike-names",
    "alike-packs",
    "order-unclear",
    "other-unit",
    "new-device",
    "not-trained",
    "hurry",
    "handover",
    "tired",
    "other",
)
"""What may have contributed, by key."""


@dataclass(frozen=True, kw_only=True)
class Place:
    """A finding: the `number`th of a round of a check, or of what was judged of its primed volume."""

    check: str
    subject: str
    round: int
    number: int


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What somebody says that a finding was."""

    category: str
    readers: str
    factors: tuple[str, ...]
    text: str


@dataclass(frozen=True, kw_only=True)
class FindingSeen:
    """A finding with the readings that it was found in or beside, as the two saw them, and what was done.

    `reviews` and `given` are what this person may be told of what was done and answered, `classified` is how
    many have answered. `why_not` says why this person does not classify it. `people` are names by id, `gone`
    those who may no longer sign in, `may_be_given` those it may be given to.
    """

    check: Seen
    row: FindingRow
    settled: SettledRow
    ended: EndedRow
    kept: KeptComparison
    found: Found
    reviews: tuple[FindingReview, ...]
    given: tuple[Classification, ...]
    classified: int
    why_not: "NotClassified | None"
    people: Mapping[str, str]
    gone: frozenset[str]
    may_be_given: Mapping[str, str]


@dataclass(frozen=True)
class Done:
    """It stands beside the finding."""


@dataclass(frozen=True)
class NotTheirs:
    """Whoever classifies is a third person: neither of the two, nor who took their request for help."""


@dataclass(frozen=True)
class AlreadyGiven:
    """Whoever asks has said it before."""


@dataclass(frozen=True)
class BothGiven:
    """Two have said it."""


NotClassified = NotTheirs | AlreadyGiven | BothGiven | NotAllowed


def see_finding(
    site: Site, act: Act, roles: frozenset[Role], place: Place
) -> FindingSeen | NotFound | NotAllowed:
    """The finding for whoever may see everything of its check; the look is written down."""
    with site.store.read() as reader:
        seen = _seen(reader, act, roles, place)
    if isinstance(seen, FindingSeen):
        note_access(site, act, place.check, what="finding")
    return seen


def review(
    site: Site, act: Act, roles: frozenset[Role], place: Place, *, text: str
) -> Done | Incomplete | NotFound | NotAllowed:
    """Say that one has looked through it."""
    event = FindingReviewed(**_within(place), text=text.strip())
    return _write(site, act, roles, place, event=event)


def comment(
    site: Site, act: Act, roles: frozenset[Role], place: Place, *, text: str
) -> Done | Incomplete | NotFound | NotAllowed:
    """Write something beside it."""
    if not text.strip():
        return Incomplete(fields=("text",))
    event = FindingCommented(**_within(place), text=text.strip())
    return _write(site, act, roles, place, event=event)


def assign(  # to whom, and why
    site: Site, act: Act, roles: frozenset[Role], place: Place, *, to: str, text: str
) -> Done | Incomplete | NotFound | NotAllowed:
    """Give it to somebody who may look through it."""
    event = FindingAssigned(**_within(place), to=to, text=text.strip())
    return _write(site, act, roles, place, event=event)


def classify(
    site: Site, act: Act, roles: frozenset[Role], place: Place, *, answer: Answer
) -> Done | Incomplete | NotClassified | NotFound:
    """Say what it was, as the first or, without being told what the first said, as the second."""
    lacking = _lacking(answer)
    if lacking:
        return Incomplete(fields=lacking)
    with site.store.write() as tx:
        if tx.find_check(place.check) is None:
            return NotFound()
        tx.lock_check(place.check)
        seen = _seen(tx, act, roles, place)
        if not isinstance(seen, FindingSeen):
            return seen
        if seen.why_not is not None:
            return seen.why_not
        said = Classification(
            **vars(place),
            place=seen.classified + 1,
            at=act.now,
            person=act.by.person,
            category=answer.category,
            readers=answer.readers,
            factors=" ".join(answer.factors),
            text=answer.text.strip(),
        )
        tx.add_classification(said)
        _keep_reached(tx, seen.row)
        event = FindingClassified(
            **_within(place),
            place=said.place,
            category=said.category,
            readers=said.readers,
            factors=answer.factors,
            text=said.text,
        )
        tx.append(event, act=act, check=place.check)
    return Done()


def _lacking(answer: Answer) -> tuple[str, ...]:
    faults = {
        "category": len(answer.category) != 1 or answer.category not in CATEGORIES,
        "readers": answer.readers not in READERS,
        "factors": not {*answer.factors} <= {*FACTORS},
    }
    return tuple(name for name, is_wrong in faults.items() if is_wrong)


def _within(place: Place) -> dict[str, Any]:
    """Where it stands within its check, of which an entry of the log is."""
    return {name: value for name, value in vars(place).items() if name != "check"}


_Event = FindingReviewed | FindingCommented | FindingAssigned
_WHAT = {FindingReviewed: REVIEWED, FindingCommented: COMMENTED, FindingAssigned: ASSIGNED}


def _write(
    site: Site, act: Act, roles: frozenset[Role], place: Place, *, event: _Event
) -> Done | Incomplete | NotFound | NotAllowed:
    if not may(roles, Permission.REVIEW_FINDINGS):
        return NotAllowed()
    with site.store.write() as tx:
        if tx.find_check(place.check) is None:
            return NotFound()
        tx.lock_check(place.check)
        seen = _seen(tx, act, roles, place)
        if not isinstance(seen, FindingSeen):
            return seen
        to = event.to if isinstance(event, FindingAssigned) else ""
        if isinstance(event, FindingAssigned) and to not in seen.may_be_given:
            return Incomplete(fields=("to",))
        if _said_last(tx, place) != (act.by.person, _WHAT[type(event)], to, event.text):
            tx.add_finding_review(_kept(place, event, tx.append(event, act=act, check=place.check), to))
            _keep_reached(tx, seen.row)
    return Done()


def _said_last(reader: Reader, place: Place) -> tuple[str, ...] | None:
    """What was done with it last, by whom: a button pressed twice says it once."""
    done = [each for each in reader.finding_reviews(place.check) if _is_at(each, place)]
    return (done[-1].person, done[-1].what, done[-1].assigned_to, done[-1].text) if done else None


def _kept(place: Place, event: _Event, entry: Entry, to: str) -> FindingReview:
    return FindingReview(
        **vars(place),
        position=entry.position,
        what=_WHAT[type(event)],
        at=entry.at,
        person=entry.by,
        assigned_to=to,
        text=event.text,
    )


def _keep_reached(tx: Transaction, row: FindingRow) -> None:
    """What the finding has reached by this act and had not before."""
    done = tx.finding_reviews(row.check), tx.classifications(row.check)
    tx.add_reached(reached(row, *done) - {*tx.reached_rows(row.check)})


def _seen(
    reader: Reader, act: Act, roles: frozenset[Role], place: Place
) -> FindingSeen | NotFound | NotAllowed:
    unit = unit_of(act, roles, "")
    if isinstance(unit, NotAllowed):
        return unit
    seen = see_in(reader, act, place.check)
    ended = reader.ended_rows(place.check)
    if isinstance(seen, NotFound) or seen.sight is not Sight.EVERYTHING or not ended:
        return NotFound()
    settled = _at(reader.settled_rows(place.check), place)
    row = _at(reader.finding_rows(place.check), place)
    # A charge nurse reads of the own unit alone, whatever a look at one check is for.
    if row is None or settled is None or (unit and row.unit != unit):
        return NotFound()
    compared = {(each.subject, each.round): each for each in seen.loaded.comparisons}
    kept = compared[place.subject, place.round]
    done = (each for each in reader.finding_reviews(place.check) if _is_at(each, place))
    answers = tuple(each for each in reader.classifications(place.check) if _is_at(each, place))
    why_not = _why_not(act, roles, seen, answers)
    person, may_classify = act.by.person, not isinstance(why_not, NotTheirs | NotAllowed)
    reviews = reviews_shown_to(person, done, answers, may_classify=may_classify)
    given = shown_to(person, answers, may_classify=may_classify)
    may_be_given = _reviewers(reader, row.unit)
    concerned = {who for each in reviews for who in (each.person, each.assigned_to)}
    concerned |= {each.person for each in given}
    people = reader.people_with(concerned)
    return FindingSeen(
        check=seen,
        row=row,
        settled=settled,
        ended=ended[0],
        # A primed volume was judged beside what was read of the sources.
        kept=compared[SOURCES, kept.opened["against"]] if place.subject == PRIMING else kept,
        found=findings_in(kept.told)[place.number - 1],
        reviews=reviews,
        given=given,
        classified=len(answers),
        why_not=why_not,
        people={who: each.printed_name for who, each in people.items()},
        gone=frozenset(who for who, each in people.items() if not each.active),
        may_be_given=may_be_given,
    )


def _reviewers(reader: Reader, unit: str) -> dict[str, str]:
    """Who may be given a finding of a unit: whoever may look through it."""
    return {
        each.id: each.printed_name
        for each in reader.people()
        if each.active
        and may(each.roles, Permission.REVIEW_FINDINGS)
        and (may(each.roles, Permission.ALL_FINDINGS) or each.unit == unit)
    }


def _why_not(
    act: Act, roles: frozenset[Role], seen: Seen, given: tuple[Classification, ...]
) -> NotClassified | None:
    if not may(roles, Permission.CLASSIFY_FINDINGS):
        return NotAllowed()
    state = seen.loaded.state
    if act.by.person in {*state.people.values(), *state.helpers}:
        return NotTheirs()
    if act.by.person in {each.person for each in given}:
        return AlreadyGiven()
    return BothGiven() if len(given) == SECOND_PLACE else None


def _is_at(each: FindingReview | Classification | FindingRow | SettledRow, place: Place) -> bool:
    return (each.subject, each.round, each.number) == (place.subject, place.round, place.number)


def _at(rows: tuple[_Row, ...], place: Place) -> _Row | None:
    return next((each for each in rows if _is_at(each, place)), None)
