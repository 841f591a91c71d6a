"""Say that a patient was observed, where pages remind of it: what was observed stands in the chart."""

from dataclasses import dataclass

from app.base import Act
from app.records.kept import KeptInfusion
from app.records.ward_events import PatientObserved
from app.site.installation import Site
from app.site.loading import load_infusion, rules_in_force
from app.workflow.loading import infusion_for
from app.workflow.refusals import NotAllowed, NotFound, NotOnShift


@dataclass(frozen=True)
class Observed:
    """It is in the log, and the next one is due from here on."""


@dataclass(frozen=True)
class NotReminded:
    """Nothing reminds here of when the patient is observed: the chart does, or nothing was started."""


def tell_observed(
    site: Site, act: Act, infusion_id: str
) -> Observed | NotReminded | NotFound | NotAllowed | NotOnShift:
    """Write down that the patient was observed just now, without what was seen."""
    with site.store.write() as tx:
        infusion = infusion_for(tx, act, infusion_id)
        if not isinstance(infusion, KeptInfusion):
            return infusion
        protocol = rules_in_force(tx, act.now).observations
        state = load_infusion(tx, infusion.id)
        if not protocol.reminds or not state.runs or state.ended_at is not None:
            return NotReminded()
        tx.append(PatientObserved(), act=act, infusion=infusion.id)
    return Observed()
