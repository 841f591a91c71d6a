"""Look at an infusion that was started: where it is, since when, and what is in force if one may see that.

A look at what is in force is written into the access table, as any look at values is.
"""

from dataclasses import dataclass
from datetime import datetime

from app.base import Act
from app.records.emergencies import TELLING
from app.records.infusion import InfusionState
from app.records.issue_events import SyringeIssued
from app.records.visibility import Sight, infusion_words, is_closed_to, sight, standing_of_infusion
from app.site.installation import Site
from app.site.loading import Loaded, load, load_infusion, rules_in_force, running_against, unit_name
from app.site.observing import observe_next
from app.storage import Reader
from app.workflow.bolus_looks import stands_since
from app.workflow.loading import has_page_of, roles_of, viewer_of
from app.workflow.looking import note_access
from app.workflow.refusals import NotFound


@dataclass(frozen=True, kw_only=True)
class InfusionSeen:
    """An infusion that was started; `check` put its settings in force, and is blank where none did.

    `in_force` is that check, where it is not closed to whoever looks; so is `observe_at`, when the patient is
    observed next, of which pages remind where `reminds`. All of the infusion is `closed` to whoever reads
    blind at its bed. `waits`: something comes before it runs on. `looked`: whoever looks may have given a
    bolus that is not written down. `stands_since`: a check is open since then for which the device stands.
    """

    infusion: str
    unit: str
    bed: str
    progress: str
    since: datetime
    runs: bool
    paused: bool
    waits: bool
    check: str
    in_force: Loaded | None
    closed: bool
    looked: bool
    stands_since: datetime | None
    observe_at: datetime | None
    reminds: bool


def since_of(infusion: InfusionState) -> datetime:
    """Since when an infusion that was started is what it is: it runs, is paused, or was stopped."""
    assert infusion.last_run is not None  # noqa: S101  # it was started
    if infusion.pause is not None:
        return infusion.pause.at
    return infusion.last_run.stopped_at or infusion.last_run.since


def see_infusion(site: Site, act: Act, infusion_id: str) -> InfusionSeen | NotFound:
    """The infusion as far as this person may see it; until something happened there is nothing to see."""
    with site.store.read() as reader:
        seen = seen_by(reader, act, infusion_id)
    return noted(site, act, seen)


def noted(site: Site, act: Act, seen: InfusionSeen | NotFound) -> InfusionSeen | NotFound:
    """What is in force was seen: that is written down."""
    if isinstance(seen, InfusionSeen) and seen.in_force is not None:
        note_access(site, act, seen.check, what="infusion")
    return seen


_NOT_STARTED = "not started"


def _something_happened(reader: Reader, infusion_id: str) -> bool:
    """Whether a syringe was issued, or something was done in a hurry, before anything was started."""
    telling = (*TELLING, SyringeIssued.kind)
    return any(each.event.kind in telling for each in reader.course(infusion_id))


def seen_by(reader: Reader, act: Act, infusion_id: str) -> InfusionSeen | NotFound:
    """The same, where more is read of it besides: whoever shows it writes the look down."""
    kept, roles = reader.find_infusion(infusion_id), roles_of(reader, act.by.person)
    if kept is None:
        return NotFound()
    state = load_infusion(reader, kept.id)
    began = state.last_run is not None
    if not (began or _something_happened(reader, kept.id)) or not has_page_of(kept, act.by, roles):
        return NotFound()
    protocol = rules_in_force(reader, act.now).observations
    in_force = load(reader, state.in_force, act.now) if state.in_force else None
    viewer = viewer_of(reader, act.by, roles, act.now)
    # The one rule of what a person may see of a check says it of what the check put in force too.
    opens = in_force is not None and sight(in_force.state, viewer) is Sight.EVERYTHING
    standing = standing_of_infusion(state, two_run=bool(running_against(reader, state)))
    return InfusionSeen(
        infusion=kept.id,
        unit=unit_name(reader, kept.unit),
        bed=kept.bed,
        progress=infusion_words(standing, state.led_to) if began else _NOT_STARTED,
        since=since_of(state) if began else kept.opened_at,
        runs=state.is_running,
        paused=state.pause is not None,
        waits=state.waits,
        check=state.in_force,
        in_force=in_force if opens else None,
        closed=is_closed_to(kept, viewer),
        looked=state.closed_at is None and state.boluses.look_to_tell(act.by.person, act.now) is not None,
        stands_since=stands_since(reader, kept),
        observe_at=observe_next(reader, state, protocol, act.now) if opens or in_force is None else None,
        reminds=protocol.reminds,
    )
