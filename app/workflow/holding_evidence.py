"""Whoever holds what is kept as evidence confirms it by the own sign-in, by the number read on its seal.

The one who keeps it and the one who takes it are two people, and each handing on is confirmed by whoever
takes it. Licensed roles where its page is shown, a pharmacist and the site's investigator may hold it: each
is known to the site, and answers for drug or for what is looked into. Whoever audits syringes or makes
logins has no page of an infusion, and holds none.
"""

from dataclasses import dataclass

from app.base import Act
from app.people import Permission, may
from app.records.custody import Custody
from app.records.emergencies import Since
from app.records.emergency_events import EvidenceKept, EvidenceReceived, SealDiffered
from app.records.evidence import kept_in
from app.records.kept import KeptInfusion
from app.records.visibility import is_closed_to
from app.site.installation import Site
from app.site.loading import load_infusion, unit_name
from app.storage import Reader
from app.workflow.emergencies import Noted, NothingStands
from app.workflow.loading import has_page_of, roles_of, viewer_of
from app.workflow.looking import note_access
from app.workflow.queueing import hold_bed
from app.workflow.refusals import NotAllowed, NotFound, ReadsBlind


@dataclass(frozen=True)
class NoSeal:
    """The number of the seal is not written yet: whoever sealed it writes that first."""


@dataclass(frozen=True)
class WroteIt:
    """Whoever wrote of what is kept is not the one who confirms that it was received."""


@dataclass(frozen=True)
class SealApart:
    """The number that was read is not the one that was written: that stands, and nobody has received it."""


Refused = NothingStands | NoSeal | WroteIt | ReadsBlind | NotFound | NotAllowed


@dataclass(frozen=True, kw_only=True)
class EvidenceSeen:
    """What is kept, for whoever confirms to hold it: who is said to hold it and where, and no number."""

    infusion: str
    unit: str
    bed: str
    what: Since
    holder: str
    place: str


def see_evidence(site: Site, act: Act, infusion_id: str) -> EvidenceSeen | Refused:
    """What was written of it, in people's own words: that is a look, as any at what is kept."""
    with site.store.read() as reader:
        found = _find(reader, act, infusion_id)
        if not isinstance(found, _Kept):
            return found
        # Of its checks the first: a later record states a look at it. What started without a check has none.
        first = [each.id for each in reader.checks_of_infusion(infusion_id)[:1]]
        seen = EvidenceSeen(
            infusion=infusion_id,
            unit=unit_name(reader, found.infusion.unit),
            bed=found.infusion.bed,
            what=found.what,
            holder=found.said.holder,
            place=found.said.place,
        )
    note_access(site, act, *first, what="evidence")
    return seen


def confirm_evidence(site: Site, act: Act, infusion_id: str, *, seal: str) -> Noted | SealApart | Refused:
    """Write down that this person holds it, if the number on its seal is the one that was written.

    Confirmed once more by its holder it stands as it did.
    """
    with site.store.write() as tx:
        infusion = tx.find_infusion(infusion_id)
        if infusion is not None:
            hold_bed(tx, infusion.unit, infusion.bed, act.now)
        found = _find(tx, act, infusion_id)
        if not isinstance(found, _Kept):
            return found
        custody, harm = found.custody, str(found.what.position)
        if not custody.has_seal(seal):
            tx.append(SealDiffered(harm=harm, seal=seal.strip()), act=act, infusion=infusion_id)
            return SealApart()
        if custody.holder == act.by.person and not custody.differs:
            return Noted(position=found.what.position)
        received = EvidenceReceived(harm=harm, seal=seal.strip())
        return Noted(position=tx.append(received, act=act, infusion=infusion_id).position)


@dataclass(frozen=True, kw_only=True)
class _Kept:
    infusion: KeptInfusion
    what: Since
    custody: Custody
    said: EvidenceKept


def _find(reader: Reader, act: Act, infusion_id: str) -> _Kept | Refused:
    infusion = _open_to(reader, act, infusion_id)
    if not isinstance(infusion, KeptInfusion):
        return infusion
    stands = load_infusion(reader, infusion_id).emergencies
    if stands.evidence is None:
        return NothingStands()
    if not stands.custody.seal:
        return NoSeal()
    if act.by.person in stands.custody.wrote:
        return WroteIt()
    harm = str(stands.evidence.position)
    said = (each for each in kept_in(reader.course(infusion_id)).values() if each.harm == harm)
    return _Kept(infusion=infusion, what=stands.evidence, custody=stands.custody, said=next(said))


def _open_to(reader: Reader, act: Act, infusion_id: str) -> KeptInfusion | NotFound | NotAllowed | ReadsBlind:
    """The infusion for whoever may hold what is kept of it, where its page is shown."""
    infusion, roles = reader.find_infusion(infusion_id), roles_of(reader, act.by.person)
    if infusion is None:
        return NotFound()
    if not may(roles, Permission.HOLD_EVIDENCE):
        return NotAllowed()
    if not has_page_of(infusion, act.by, roles):
        return NotFound()
    return ReadsBlind() if is_closed_to(infusion, viewer_of(reader, act.by, roles, act.now)) else infusion
