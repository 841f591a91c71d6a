"""All that is known of an infusion, for one page: what happened, what is due, who answers, its account."""

from dataclasses import dataclass
from datetime import datetime

from app.accounting.lasting import Lasting
from app.base import Act
from app.records.answering import Cover
from app.records.course_kinds import COURSE
from app.records.due import Due, due_things
from app.records.infusion import InfusionState, fold_infusion
from app.records.issued import Issued, issued_in, out_of
from app.records.timeline import Moment, moments, open_checks_in
from app.site.installation import Site
from app.site.lasting import AccountRead, NotComputed, read_account_of
from app.site.loading import checks_in, rules_in_force
from app.site.observing import observe_by
from app.storage import ReadAhead, Reader
from app.workflow.emergencies_seen import as_shown_to
from app.workflow.infusions import InfusionSeen, noted, seen_by
from app.workflow.loading import roles_of
from app.workflow.looking import note_access
from app.workflow.refusals import NotFound


@dataclass(frozen=True, kw_only=True)
class InfusionTold:
    """What is known of an infusion; `account` is None while it has none.

    `lasting` is of the syringe that is on, until the infusion has ended. `names` are those of everybody in
    `told` and of whoever answers for it, by id. `is_closed`: nothing of it is in hand. `out` was issued, and
    is neither put on nor given back. `cover` is of a break that goes on of whoever answers for it.
    """

    responsible: str
    due: tuple[Due, ...]
    account: AccountRead | NotComputed | None
    lasting: Lasting | None
    told: tuple[Moment, ...]
    names: dict[str, str]
    is_closed: bool
    out: tuple[Issued, ...]
    cover: Cover | None


@dataclass(frozen=True, kw_only=True)
class WholeInfusion:
    """An infusion as it is seen; `told` is None for whoever reads blind at its bed."""

    seen: InfusionSeen
    told: InfusionTold | None


def see_whole_infusion(site: Site, act: Act, infusion_id: str) -> WholeInfusion | NotFound:
    """All of it, as far as this person may see it; the look is written down."""
    with site.store.read_ahead() as reader:
        seen = seen_by(reader, act, infusion_id)
        told = None if isinstance(seen, NotFound) or seen.closed else _told(reader, act, seen)
    looked = noted(site, act, seen)
    if isinstance(looked, NotFound):
        return looked
    if told and looked.in_force is None:
        # Nothing is in force, and yet a check that came to nothing may have left a value.
        note_access(site, act, *sorted({each.check for each in told.told if each.check}), what="infusion")
    return WholeInfusion(seen=looked, told=told)


def _told(reader: ReadAhead, act: Act, seen: InfusionSeen) -> InfusionTold:
    log = reader.entries_of_infusion(seen.infusion)
    course = tuple(each for each in log if each.event.kind in COURSE)
    state = fold_infusion(seen.infusion, course)
    policy = rules_in_force(reader, act.now).policy
    # As the list says it of what runs without a check.
    since = log[0].at if state.is_unchecked else act.now
    is_open = open_checks_in(log)
    counts = tuple(each for each in course if each.check not in is_open)
    reader.take_comparisons(checks_in(counts))
    account = read_account_of(reader, counts, policy, act.now)
    shown = as_shown_to(act, roles_of(reader, act.by.person), state, log)
    told = moments(shown, account.account.entries if account else ())
    covers = state.cover.covers if state.cover else ""
    people = reader.people_with({state.responsible, covers, *(who for each in told for who in each.named)})
    return InfusionTold(
        responsible=state.responsible,
        due=due_things(
            state,
            rules_in_force(reader, since).policy,
            act.now,
            observe_by=_observe_by(reader, act, seen, state),
        ),
        account=account,
        lasting=account.lasting if isinstance(account, AccountRead) and state.ended_at is None else None,
        told=told,
        names={who: person.printed_name for who, person in people.items()},
        is_closed=state.closed_at is not None or not state.runs,
        out=out_of(issued_in(course)),
        cover=state.cover,
    )


def _observe_by(reader: Reader, act: Act, seen: InfusionSeen, state: InfusionState) -> datetime | None:
    """By when the patient is observed, for whoever may know when that is."""
    if seen.observe_at is None:
        return None
    return observe_by(reader, state, rules_in_force(reader, act.now).observations, act.now)
