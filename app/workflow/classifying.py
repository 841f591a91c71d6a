"""What waits for somebody to say what it was: what may have reached a patient, and what samples hold."""

from dataclasses import dataclass

from app.base import Act
from app.people import Permission, Role, may
from app.records.followup import Severity
from app.records.kinds import KINDS
from app.site.installation import Site
from app.storage import FindingPlace, FindingsWanted, Reader
from app.workflow.auditing_samples import SampleListed, listed_samples
from app.workflow.findings import PAGE, PastFindings, page_of
from app.workflow.loading import viewer_of
from app.workflow.refusals import NotAllowed, NotFound
from app.workflow.sampling import Drawn, drawn_again, plan_of

# What is found while PCA runs was so at the patient.
_RUNNING = frozenset(each.name for each in KINDS.values() if each.is_running)


@dataclass(frozen=True, kw_only=True)
class ToClassify:
    """A page of what waits, of what may have reached a patient or of one of the samples."""

    found: PastFindings
    samples: tuple[SampleListed, ...]


def to_classify(
    site: Site, act: Act, roles: frozenset[Role], *, sample: str = "", after: FindingPlace | None = None
) -> ToClassify | NotAllowed | NotFound:
    """What waits for this person: nothing they took part in, and nothing that they or two have classified."""
    if not may(roles, Permission.CLASSIFY_FINDINGS):
        return NotAllowed()
    with site.store.read() as reader:
        samples = listed_samples(reader) if may(roles, Permission.SAMPLE) else ()
        checks = _checks_of(reader, act, samples, sample) if sample else None
        if sample and checks is None:
            return NotFound()
        viewer = viewer_of(reader, act.by, roles, act.now)
        asked = FindingsWanted(
            columns={"severity": Severity.STOP.value},
            kinds=() if sample else _RUNNING,
            checks=checks,
            to_classify=True,
            person=act.by.person,
            after=after,
            hidden_at=viewer.blind_at,
            hidden_on=viewer.blind_on,
            limit=PAGE,
        )
        return ToClassify(found=page_of(reader, asked), samples=samples)


def _checks_of(
    reader: Reader, act: Act, samples: tuple[SampleListed, ...], sample: str
) -> frozenset[str] | None:
    """The checks of a sample, drawn again; None where there is no such sample."""
    listed = next((each for each in samples if each.sample == sample), None)
    drawn = drawn_again(reader, act.now, plan_of(listed.event)) if listed else None
    if not isinstance(drawn, Drawn):
        return None
    return frozenset(row.check for rows in drawn.units.values() for row in rows)
