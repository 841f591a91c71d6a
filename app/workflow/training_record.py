"""A person's own checks on training cards that have ended, and the record of them to be signed by hand."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.base import Act
from app.records.training_events import CardSetTaken
from app.records.visibility import Sight
from app.reports.competency_record import CompetencyRecord, render_competency
from app.review.competency import Competency, Trained, competency
from app.site.installation import Site, is_for_training
from app.site.loading import rules_in_force
from app.storage import Reader
from app.words.study import ERRORS
from app.workflow.looking import Seen, note_access, see_in
from app.workflow.refusals import NotFound
from app.workflow.training_outcome import Outcome, outcome_of


@dataclass(frozen=True, kw_only=True)
class OwnTraining:
    """What a person's checks on cards come to; `checks` are their ids, line by line."""

    competency: Competency
    checks: tuple[str, ...]


def own_training(site: Site, act: Act) -> OwnTraining | NotFound:
    """One's own checks on cards, the last first; a look at each, written down."""
    with site.store.read() as reader:
        if not is_for_training(reader):
            return NotFound()
        told = list(_told(site, reader, act))
    note_access(site, act, *(outcome.check for _, outcome in told), what="training")
    return OwnTraining(
        competency=competency([_line(slot, outcome) for slot, outcome in told]),
        checks=tuple(outcome.check for _, outcome in told),
    )


def competency_pdf(site: Site, act: Act) -> bytes | NotFound:
    """The same as a PDF, with room for the two who sign it by hand."""
    own = own_training(site, act)
    if isinstance(own, NotFound):
        return own
    with site.store.read() as reader:
        policy, person = rules_in_force(reader, act.now).policy, reader.find_person(act.by.person)
    assert person is not None  # noqa: S101  # signed in
    return render_competency(
        CompetencyRecord(
            hospital=policy.site,
            zone=policy.zone,
            name=person.printed_name,
            staff_number=person.staff_number,
            at=act.now,
            competency=own.competency,
        )
    )


def _told(site: Site, reader: Reader, act: Act) -> Iterator[tuple[int, Outcome]]:
    for entry in reversed(reader.entries_of_kind(CardSetTaken.kind)):
        seen = see_in(reader, act, entry.check)
        if isinstance(seen, Seen) and seen.slot is not None and seen.sight is Sight.EVERYTHING:
            outcome = outcome_of(site, reader, seen.loaded.state, seen.loaded.comparisons)
            if outcome is not None:
                yield seen.slot, outcome


def _line(slot: int, outcome: Outcome) -> Trained:
    took = outcome.seconds.get(slot)
    return Trained(
        on=outcome.ended_at,
        number=outcome.number,
        wrong=ERRORS[outcome.error] if outcome.error else "",
        caught=outcome.caught.get(slot),
        seconds=None if took is None else took - outcome.joined[slot],
    )
