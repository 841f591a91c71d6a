"""Look at one check as far as the viewer may see it, and at its record.

A look at values of a check is written into the access table, which is outside the log.
"""

from dataclasses import dataclass, replace
from datetime import datetime

from app.base import Act
from app.people import Permission, may
from app.records.events import RecordIssued, WhatFollowedIssued
from app.records.kept import Access, FrozenRecord, KeptFollowed, KeptPdf, KeptSignature
from app.records.visibility import (
    Sight,
    as_seen,
    sight,
    visible_to_others,
)
from app.site.installation import Site
from app.site.loading import Loaded, load, rules_in_force, unit_name
from app.site.observing import observe_next
from app.storage import Reader
from app.workflow.loading import is_found_on, roles_of, viewer_of
from app.workflow.refusals import NotAllowed, NotFound


@dataclass(frozen=True, kw_only=True)
class Seen:
    """A check, how much of it this viewer may see, and the names of its people.

    `progress` is the word that everybody who may know of it sees; `viewer` is who looks; `followed` are the
    editions of its record of which what followed is told.
    """

    loaded: Loaded
    sight: Sight
    progress: str
    followed: tuple[int, ...]
    names: dict[str, str]
    unit: str
    viewer: str
    slot: int | None


@dataclass(frozen=True, kw_only=True)
class RecordSeen:
    """The frozen record with its signatures; `observe_at` is when the patient is observed next.

    That is of the check that put in force what runs now.
    """

    frozen: FrozenRecord
    signatures: tuple[KeptSignature, ...]
    check: Seen
    observe_at: datetime | None

    @property
    def has_pdf(self) -> bool:
        """Whether the PDF has been made of it."""
        return self.frozen.edition in self.check.loaded.state.issued


@dataclass(frozen=True, kw_only=True)
class PdfSeen:
    """The stored PDF of a record, and the digest that the log has of it."""

    pdf: KeptPdf
    issued_as: str


@dataclass(frozen=True, kw_only=True)
class FollowedSeen:
    """The stored PDF of what followed a record, and the digest that the log has of it."""

    followed: KeptFollowed
    issued_as: str


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where a check or an infusion is, for pages that say nothing else of it; an infusion has no kind.

    `mine`: whoever asks is one of the check's two.
    """

    unit: str
    bed: str
    kind: str = ""
    mine: bool = False


def find_place(site: Site, act: Act, check_id: str) -> Place | None:
    """Unit and bed of a check, for whoever may know of it; no value is seen, so no look is written down."""
    seen = see_progress(site, act, check_id)
    if isinstance(seen, NotFound):
        return None
    check = seen.loaded.state.check
    return Place(unit=seen.unit, bed=check.bed, kind=check.kind, mine=seen.slot is not None)


def find_place_of_infusion(site: Site, act: Act, infusion_id: str) -> Place | None:
    """Unit and bed of an infusion, for whoever has the list of its unit in front."""
    with site.store.read() as reader:
        infusion = reader.find_infusion(infusion_id)
        sees_unit = may(roles_of(reader, act.by.person), Permission.UNIT_STATE)
        if infusion is None or not sees_unit or not is_found_on(reader, infusion, act.by.unit):
            return None
        return Place(unit=unit_name(reader, infusion.unit), bed=infusion.bed)


def see_check(site: Site, act: Act, check_id: str) -> Seen | NotFound:
    """The check as far as this person may see it; to know of it, one must be allowed to see its progress."""
    with site.store.read() as reader:
        seen = _seen(reader, act, check_id)
    if isinstance(seen, Seen) and seen.sight is Sight.EVERYTHING:
        note_access(site, act, check_id, what="check")
    return seen


def see_in(reader: Reader, act: Act, check_id: str) -> Seen | NotFound:
    """The same where more is read or written besides; whoever asks writes the look down."""
    return _seen(reader, act, check_id)


def see_progress(site: Site, act: Act, check_id: str) -> Seen | NotFound:
    """The check for a page that shows only how far it is: no value is handed out, no look written down."""
    with site.store.read() as reader:
        return progress_of(reader, act, check_id)


def progress_of(reader: Reader, act: Act, check_id: str) -> Seen | NotFound:
    """The same, where something is read or written besides."""
    return _seen(reader, act, check_id, at_most=Sight.PROGRESS)


def _seen(reader: Reader, act: Act, check_id: str, *, at_most: Sight = Sight.EVERYTHING) -> Seen | NotFound:
    loaded = load(reader, check_id, act.now)
    if loaded is None:
        return NotFound()
    state = loaded.state
    concerned = {
        *state.people.values(),
        *state.helpers,
        *(each.by for each in state.stop_notes),
        *(who for each in state.taken_back for who in (each.by, each.witness)),
        state.abandoned_by,
    }
    people = reader.people_with({act.by.person, *concerned})
    roles = people[act.by.person].roles if act.by.person in people else frozenset()
    allowed = min(at_most, sight(state, viewer_of(reader, act.by, roles, act.now, of=state)))
    if allowed is Sight.NOTHING:
        return NotFound()
    return Seen(
        # Whoever may not see values is not handed any.
        loaded=replace(loaded, entries=())
        if allowed is Sight.EVERYTHING
        else replace(
            loaded,
            state=as_seen(state, allowed),
            comparisons=(),
            entries=(),
            first_read=None,
            read_apart=None,
        ),
        sight=allowed,
        progress=visible_to_others(state, loaded.infusion),
        followed=_followed(loaded),
        names={who: people[who].printed_name for who in concerned if who in people},
        unit=unit_name(reader, state.check.unit),
        viewer=act.by.person,
        slot=state.slot_of(act.by.person),
    )


def _followed(loaded: Loaded) -> tuple[int, ...]:
    told = (each.event for each in loaded.entries if each.check == loaded.state.check.id)
    return tuple(sorted(event.edition for event in told if isinstance(event, WhatFollowedIssued)))


def see_record(
    site: Site, act: Act, check_id: str, edition: int | None = None
) -> RecordSeen | NotFound | NotAllowed:
    """The record of a check; before clearance only its two may see what they are about to sign."""
    with site.store.read() as reader:
        record = _record_seen(reader, act, check_id, edition)
    if isinstance(record, RecordSeen):
        note_access(site, act, check_id, what="record")
    return record


def see_pdf(site: Site, act: Act, check_id: str) -> PdfSeen | NotFound | NotAllowed:
    """The PDF of the newest edition, for whoever may see the record."""
    with site.store.read() as reader:
        record = _record_seen(reader, act, check_id, None)
        if not isinstance(record, RecordSeen):
            return record
        made = record.frozen.edition
        pdf = reader.find_pdf(check_id, made)
        happened = [each.event for each in reader.entries(check_id)]
    if pdf is None:
        return NotFound()
    note_access(site, act, check_id, what="record")
    issued = [each for each in happened if isinstance(each, RecordIssued) and each.edition == made]
    return PdfSeen(pdf=pdf, issued_as="".join(each.pdf_digest for each in issued))


def see_what_followed(
    site: Site, act: Act, check_id: str, edition: int
) -> FollowedSeen | NotFound | NotAllowed:
    """What followed an edition, for whoever may see the record; there is none while its story goes on."""
    with site.store.read() as reader:
        record = _record_seen(reader, act, check_id, edition)
        if not isinstance(record, RecordSeen):
            return record
        followed = next((each for each in reader.followed(check_id) if each.edition == edition), None)
        happened = [each.event for each in reader.entries(check_id)]
    if followed is None:
        return NotFound()
    note_access(site, act, check_id, what="what followed")
    issued = [each for each in happened if isinstance(each, WhatFollowedIssued) and each.edition == edition]
    return FollowedSeen(followed=followed, issued_as="".join(each.pdf_digest for each in issued))


def _record_seen(
    reader: Reader, act: Act, check_id: str, edition: int | None
) -> RecordSeen | NotFound | NotAllowed:
    seen = _seen(reader, act, check_id)
    if isinstance(seen, NotFound):
        return seen
    if seen.sight is not Sight.EVERYTHING:
        return NotAllowed()
    frozen = reader.frozen_records(check_id)
    wanted = next((each for each in reversed(frozen) if edition in (None, each.edition)), None)
    if wanted is None:
        return NotFound()
    signatures = tuple(each for each in reader.signatures(check_id) if each.edition == wanted.edition)
    infusion = seen.loaded.infusion
    is_in_force = infusion.in_force == check_id
    # As on the page of the infusion: what is due now is by what is in force now.
    protocol = rules_in_force(reader, act.now).observations
    return RecordSeen(
        frozen=wanted,
        signatures=signatures,
        check=seen,
        observe_at=observe_next(reader, infusion, protocol, act.now) if is_in_force else None,
    )


def note_access(site: Site, act: Act, *checks: str, what: str) -> None:
    """Write down that this person looked at values of checks: at a check, its record or its infusion."""
    with site.store.write() as tx:
        for each in checks:
            tx.add_access(
                Access(at=act.now, person=act.by.person, session=act.by.session, check=each, what=what)
            )


def note_refused(site: Site, act: Act, what: str) -> None:
    """Write down that this person asked for what is not there for them: it is no look at any check."""
    with site.store.write() as tx:
        tx.add_access(Access(at=act.now, person=act.by.person, session=act.by.session, check="", what=what))


def unit_names(site: Site) -> dict[str, str]:
    """The names of the site's units by their ids, in their order."""
    with site.store.read() as reader:
        return {each.id: each.name for each in reader.units()}
