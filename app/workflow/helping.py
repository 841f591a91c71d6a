"""A third person helps: takes the request, sets a rule aside for once, and says how it was settled."""

from dataclasses import dataclass

from app.base import Act
from app.people import Permission, Role, may
from app.records import events
from app.records.asked_help import Help
from app.records.followup import Follow
from app.records.kept import HelpTaker
from app.records.outcomes import NAMED, Outcome, Then, outcomes_of, read_after
from app.records.reading import with_whole
from app.records.state import BLIND, CheckState
from app.records.visibility import Sight, sight
from app.site.installation import Site
from app.site.loading import lock_and_load
from app.storage import ConstraintBroken, Transaction
from app.workflow.comparing import compare_before_its_end
from app.workflow.drafts import carry_on
from app.workflow.freezing import freeze_if_complete
from app.workflow.loading import viewer_of
from app.workflow.refusals import Incomplete, NotAllowed, NotFound, NotNow
from app.workflow.settling import Done, NoSuchFinding, give_up, number_of_next, scope_of_next


@dataclass(frozen=True)
class TakenAlready:
    """Somebody else has this request than the page named."""


@dataclass(frozen=True)
class TakenOver:
    """Whoever acts had the request, and another has taken it over since."""


@dataclass(frozen=True)
class OneOfTheTwo:
    """Whoever helps is a third person, never one of the check's two."""


@dataclass(frozen=True)
class DoesNotFit:
    """The kind of check reads nothing of it, or nothing has happened that it says."""


def take_help(
    site: Site, act: Act, roles: frozenset[Role], check_id: str, *, over: str = ""
) -> Done | NotFound | NotAllowed | NotNow | TakenAlready | OneOfTheTwo:
    """A third person takes the request for help, or over from whoever had it when the page was made."""
    if not may(roles, Permission.TAKE_ESCALATION):
        return NotAllowed()
    with site.store.write() as tx:
        loaded = lock_and_load(tx, check_id, act.now)
        if loaded is None:
            return NotFound()
        state = loaded.state
        viewer = viewer_of(tx, act.by, roles, act.now, of=state)
        if sight(state, viewer) is Sight.NOTHING:
            return NotFound()
        asked = state.open_help
        if asked is None:
            return NotNow(phase=state.phase)
        if asked.taken_by == act.by.person:
            return Done()
        if asked.taken_by != over:
            return TakenAlready()
        taking = events.HelpTaken(help=asked.id, turn=len(asked.takings) + 1)
        try:
            tx.add_help_taker(
                HelpTaker(
                    help=asked.id,
                    turn=taking.turn,
                    check=check_id,
                    person=act.by.person,
                    taken_at=act.now,
                )
            )
        except ConstraintBroken:
            tx.refuse()
            return OneOfTheTwo()
        tx.append(taking, act=act, check=check_id, infusion=state.check.infusion)
    return Done()


def settle_help(
    site: Site, act: Act, check_id: str, *, outcome: str, text: str
) -> Done | NotFound | NotAllowed | NotNow | TakenOver | Incomplete | DoesNotFit:
    """The third person says how it was settled; what is to be read again is opened with it, for both."""
    if outcome in NAMED and NAMED[outcome].then is Then.END:
        compare_before_its_end(site, check_id, act.now)
    with site.store.write() as tx:
        loaded = lock_and_load(tx, check_id, act.now)
        if loaded is None:
            return NotFound()
        taken = _taken_by(act, loaded.state)
        if not isinstance(taken, Help):
            return taken
        chosen = _chosen(loaded.state, outcome, text)
        if not isinstance(chosen, Outcome):
            return chosen
        settling = _Settling(site=site, tx=tx, act=act, state=loaded.state)
        settling.tell(events.HelpSettled(help=taken.id, outcome=outcome, text=text))
        match chosen.then:
            case Then.END:
                give_up(site, tx, act, loaded, reason="escalation", text=text)
            case Then.READ | Then.READ_WHAT_DIFFERS:
                settling.have_read_again(chosen)
            case Then.GO_ON:
                pass
        freeze_if_complete(tx, loaded.after(tx.appended), act=act)
    return Done()


def _taken_by(act: Act, state: CheckState) -> Help | NotNow | NotAllowed | TakenOver:
    """The request that is open, for whoever has it; of whoever had it once, that another took it over."""
    asked, person = state.open_help, act.by.person
    if asked is not None and asked.taken_by == person:
        return asked
    last = asked or next(reversed(state.help), None)
    if last is not None and person in last.takers and last.taken_by != person:
        return TakenOver()
    return NotNow(phase=state.phase) if asked is None else NotAllowed()


def _chosen(state: CheckState, name: str, text: str) -> Outcome | Incomplete | DoesNotFit:
    outcome = NAMED.get(name)
    if outcome is None:
        return Incomplete(fields=("outcome",))
    if outcome not in outcomes_of(state):
        return DoesNotFit()
    return Incomplete(fields=("more",)) if outcome.in_words and not text.strip() else outcome


@dataclass(frozen=True, kw_only=True)
class _Settling:
    """One check, held to the end of the act."""

    site: Site
    tx: Transaction
    act: Act
    state: CheckState

    def tell(self, event: events.Event) -> None:
        check = self.state.check
        self.tx.append(event, act=self.act, check=check.id, infusion=check.infusion)

    def have_read_again(self, outcome: Outcome) -> None:
        """Open the next reading; while they still read, what was written of what was put right is void.

        So it is whether or not anybody has handed in: nobody can tell from it.
        """
        read = tuple(each.value for each in read_after(outcome, self.state.kind))
        touched = (outcome.put_right.value,) if outcome.put_right else ()
        following = number_of_next(self.state)
        if self.state.phase in BLIND:
            current = following - 1
            self.tell(
                events.RoundVoided(round=current, why="", sources=read, touched=touched, outcome=outcome.name)
            )
            people, check = self.state.people.values(), self.state.check.id
            carry_on(self.site, self.tx, self.act, people, check=check, number=current, but=read)
            return
        scope = with_whole(scope_of_next(self.state, touched), read)
        self.tell(
            events.NextReadingOpened(
                round=following, scope=scope, touched=touched, why="", outcome=outcome.name
            )
        )


def grant_exception(
    site: Site, act: Act, roles: frozenset[Role], check_id: str, *, finding: str, reason: str, prescriber: str
) -> Done | NotFound | NotAllowed | NotNow | TakenOver | NoSuchFinding | Incomplete:
    """Set one library or policy rule aside, for this infusion, this field, this value, this one time."""
    if not may(roles, Permission.GRANT_EXCEPTION):
        return NotAllowed()
    with site.store.write() as tx:
        loaded = lock_and_load(tx, check_id, act.now)
        if loaded is None:
            return NotFound()
        state = loaded.state
        taken = _taken_by(act, state)
        if not isinstance(taken, Help):
            return taken
        found = next((each for each in state.open_stops if each.key == finding), None)
        if found is None or found.follow is not Follow.RULE:
            return NoSuchFinding()
        lacking = _lacking_for_exception(roles, reason, prescriber)
        if lacking:
            return Incomplete(fields=lacking)
        tx.append(
            events.ExceptionGranted(
                finding=finding, code=found.code, field=found.field, reason=reason, prescriber=prescriber
            ),
            act=act,
            check=check_id,
            infusion=state.check.infusion,
        )
    return Done()


def _lacking_for_exception(roles: frozenset[Role], reason: str, prescriber: str) -> tuple[str, ...]:
    lacking = [] if reason.strip() else ["reason"]
    # A charge nurse stands in where no pharmacist is on duty, and then only with the prescriber named.
    if Role.PHARMACIST not in roles and not prescriber.strip():
        lacking.append("prescriber")
    return tuple(lacking)
