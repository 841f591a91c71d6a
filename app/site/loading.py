"""Load a check as its state: the rows of one check, folded."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from fractions import Fraction
from functools import lru_cache
from typing import Any

from app.comparison import CaseError, read_without_library
from app.comparison.old_line import has_other_strength, on_label
from app.judging.elsewhere import agreed_patient
from app.judging.identifiers import compared_identifier
from app.judging.in_hand import off_the_device
from app.records import events
from app.records.account import fold_account
from app.records.account_so_far import Account
from app.records.added_up import Results
from app.records.check_read import CheckRead
from app.records.closed_accounts import settled_in
from app.records.ending_events import InfusionEnded
from app.records.fold import fold
from app.records.followup import findings_in
from app.records.infusion import InfusionState, fold_infusion
from app.records.kept import FIRST, PRIMING, SECOND, SOURCES, Entry, KeptCheck, KeptComparison, KeptInfusion
from app.records.kept_orders import OrderOnRecord, active_orders
from app.records.kinds import Given, Kind, kind_named
from app.records.known import NOTHING_KNOWN, Known, Runs, known_by
from app.records.policy import SitePolicy
from app.records.reading import Answers
from app.records.replaced import Replaced, find_replaced
from app.records.rules import LIBRARY, PACKS, Rules
from app.records.state import CheckState
from app.records.steps import OTHER_STRENGTH, PART_USED, Plan
from app.records.taken_back import FirstRead, find_apart, find_first_read
from app.storage import Reader, Transaction

_TO_TELL_APART = 2
# More than are looked at at once in any installation.
_COMPARISONS = 512


@dataclass(frozen=True, kw_only=True)
class Loaded:
    """A check's state, its infusion's, and the published rules that were in force when it was opened.

    `replaced` is what is known of syringes that were replaced, `first_read` what waits for a witness,
    `read_apart` what was read first where two did not agree.
    `entries` is what both were folded from, for whoever acts: nobody who looks is handed it.
    """

    state: CheckState
    infusion: InfusionState
    rules: Rules
    comparisons: tuple[KeptComparison, ...]
    entries: tuple[Entry, ...]
    replaced: Replaced
    first_read: FirstRead | None = None
    read_apart: Entry | None = None

    @property
    def policy(self) -> SitePolicy:
        """The site's policy, as it is on the check's unit."""
        return self.rules.policy

    @property
    def library(self) -> Mapping[str, Any]:
        """The drug library."""
        return self.rules.content(LIBRARY)

    @property
    def packs(self) -> Mapping[str, Any]:
        """The packs of the site."""
        return self.rules.content(PACKS)

    @property
    def last_comparison(self) -> KeptComparison | None:
        """What is kept of the last round of the sources that was compared."""
        compared = [each.number for each in self.state.rounds if each.compared_at is not None]
        if not compared:
            return None
        of_sources = (each for each in self.comparisons if each.subject == SOURCES)
        return next(each for each in of_sources if each.round == compared[-1])

    @property
    def before_replacement(self) -> KeptComparison | None:
        """What was read last before a syringe was replaced from which a line had been primed."""
        earlier = [
            each
            for each in self.comparisons
            if each.subject == SOURCES and each.round < (self.replaced.primed or 0)
        ]
        return max(earlier, key=lambda each: each.round, default=None)

    @property
    def last_priming(self) -> KeptComparison | None:
        """What the last primed volume came to, whether or not it stands."""
        judged = [each for each in self.comparisons if each.subject == PRIMING]
        return max(judged, key=lambda each: each.round, default=None)

    def after(self, entries: Iterable[Entry], compared: Iterable[KeptComparison] = ()) -> "Loaded":
        """The check once these entries, and these comparisons, have been added to it."""
        comparisons = sorted((*self.comparisons, *compared), key=lambda each: (each.round, each.subject))
        before = self.state
        newest = self.entries[-1].position if self.entries else 0
        new = [each for each in entries if each.position > newest]
        return folded(
            before.check, (*self.entries, *new), tuple(comparisons), rules=self.rules, now=before.now
        )


def load(reader: Reader, check_id: str, now: datetime) -> Loaded | None:
    """The check's state at `now`, or None when there is no such check."""
    check = reader.find_check(check_id)
    return load_check(reader, check, now) if check else None


def lock_and_load(tx: Transaction, check_id: str, now: datetime) -> Loaded | None:
    """The same, holding the check's row to the end of the act: others who act on it meanwhile wait.

    Whoever meets a clearance whose time has run out writes that down first: it stays so by whatever clock.
    """
    try:
        check = tx.lock_check(check_id)
    except LookupError:
        return None
    loaded = load_check(tx, check, now)
    if not loaded.state.has_run_out:
        return loaded
    why = events.ClearanceLapsed.TIME
    return loaded.after([tx.append(events.ClearanceLapsed(why=why), at=now, check=check_id)])


def load_check(reader: Reader, check: KeptCheck, now: datetime) -> Loaded:
    """The state of a check whose row is at hand."""
    rules = rules_in_force(reader, check.opened_at, unit=check.unit)
    entries = reader.entries_with_course(check)
    return folded(check, entries, reader.comparisons(check.id), rules=rules, now=now)


def folded(
    check: KeptCheck,
    entries: tuple[Entry, ...],
    comparisons: tuple[KeptComparison, ...],
    *,
    rules: Rules,
    now: datetime,
) -> Loaded:
    """The states at `now` that these entries and comparisons add up to."""
    plan = _plan_of(check, rules, comparisons)
    own = (each for each in entries if each.check == check.id)
    contents = _contents_of(comparisons) if plan else {}
    results = _results_of(comparisons)
    of_rounds = results.findings.items() if contents else ()
    apart = {number for number, found in of_rounds if any(each.reads_apart for each in found)}
    may_be_replaced = plan is not None and not kind_named(check.kind).ends
    replaced = find_replaced(own, plan, contents, apart) if plan and may_be_replaced else Replaced()
    state = fold(
        check,
        entries,
        replace(results, other_syringe=replaced.unsaid),
        plan=plan.where(*replaced.facts, *_facts_of(check, plan, comparisons)) if plan else None,
        now=now,
        clearance=rules.policy.clearance,
    )
    infusion = fold_infusion(check.infusion, entries)
    return Loaded(
        state=state,
        infusion=infusion,
        rules=rules,
        comparisons=comparisons,
        entries=entries,
        replaced=replaced,
        first_read=find_first_read(entries, check.id),
        read_apart=find_apart(entries, check.id),
    )


def load_infusion(reader: Reader, infusion: str) -> InfusionState:
    """The state of an infusion; it holds no value."""
    return fold_infusion(infusion, reader.course(infusion))


def known_of(reader: Reader, infusion: InfusionState) -> Known:
    """What the infusion knows, as values: only the comparison and its verification may ask."""
    return known_of_check(reader, infusion.in_force) if infusion.in_force else NOTHING_KNOWN


def known_of_check(reader: Reader, check: str) -> Known:
    """What a check put in force, as values: the same, and whoever may see everything of it."""
    of_check = reader.comparisons(check)
    compared = [each for each in of_check if each.subject == SOURCES]
    return _known_by(compared[-1] if compared else None)


def account_of(reader: Reader, infusion: str, *, before: int | None = None) -> Account:
    """The account of an infusion, as far as the log tells it before a position.

    Only the comparison and its verification may ask, and whoever may see everything of the infusion.
    """
    return _account_in(reader, _so_far(reader, infusion, before))


def _so_far(reader: Reader, infusion: str, before: int | None) -> list[Entry]:
    return [each for each in reader.course(infusion) if before is None or each.position < before]


def _account_in(reader: Reader, log: list[Entry]) -> Account:
    return fold_account(log, read_by_checks(reader, log))


def account_at_the_end(reader: Reader, loaded: Loaded) -> Account:
    """The account of an infusion as it will be once both have signed the check of its end.

    It is closed up to the newest entry of `loaded`, so that it comes out the same at any time after.
    """
    check, newest, log = loaded.state.check, loaded.entries[-1], course_so_far(reader, loaded)
    read = read_by_checks(reader, [each for each in log if each.check != check.id])
    ended = replace(newest, event=InfusionEnded(check_kind=check.kind), check=check.id)
    return fold_account((*log, ended), {**read, check.id: read_of(loaded.comparisons)})


def course_so_far(reader: Reader, loaded: Loaded) -> list[Entry]:
    """What the log tells of the infusion up to the newest entry of `loaded`: the same at any time after."""
    newest = loaded.entries[-1].position
    return [each for each in reader.course(loaded.state.check.infusion) if each.position <= newest]


def with_account(
    known: Known, kind: Kind, reader: Reader, infusion: str, *, before: int | None = None
) -> Known:
    """What the infusion knows, its account too where the judges of this kind are given it."""
    if Given.ACCOUNT not in kind.given:
        return known
    log = _so_far(reader, infusion, before)
    account = _account_in(reader, log)
    begun = account.begun.isoformat(timespec="seconds") if account.begun else ""
    lowered = account.lowered.isoformat(timespec="seconds") if account.lowered else ""
    settled = settled_in(account.entries or account.spilt, log)
    return replace(
        known,
        account=account.written(),
        begun=begun,
        spilt=tuple(each.written() for each in account.spilt),
        settled=settled,
        lowered=lowered,
        syringes=off_the_device(account),
        on=account.told_of(account.on) if account.on else {},
        place=account.place,
        off=account.off.written() if account.off else {},
        next_name=account.next_name,
    )


def orders_on_record(
    reader: Reader, loaded: "Loaded", answers: Mapping[int, Answers], *, at: datetime, before: int
) -> tuple[OrderOnRecord, ...]:
    """The orders of other systems for the patient whom both read, as they were before a position of the log.

    Only the comparison and its verification may ask, and only what both have handed in.
    """
    if Given.ORDERS not in loaded.state.kind.given:
        return ()
    patient = compared_identifier(agreed_patient(answers[FIRST], answers[SECOND]))
    if not patient:
        return ()
    messages = reader.orders_of(patient, before=before)
    found = active_orders(messages, patient, at=at, counts_for=loaded.policy.orders.counts_for)
    return tuple(each.on_record() for each in found)


def checks_in(log: Iterable[Entry]) -> set[str]:
    """The checks to which these entries belong, or that were given up for what they tell."""
    told = tuple(log)
    given_up = {each.event.instead_of for each in told if isinstance(each.event, events.StartedWithoutCheck)}
    return ({each.check for each in told} | given_up) - {""}


def read_by_checks(reader: Reader, log: Iterable[Entry]) -> dict[str, CheckRead]:
    """What the checks of these entries read that bears on the account."""
    return {each: read_of(reader.comparisons(each)) for each in checks_in(log)}


def read_of(kept: tuple[KeptComparison, ...]) -> CheckRead:
    """What a check read that bears on the account, from what is kept of its comparisons."""
    primed = [each for each in kept if each.subject == PRIMING]
    return CheckRead(
        rounds=tuple(each for each in kept if each.subject == SOURCES), primed=primed[-1] if primed else None
    )


def running_beside(reader: Reader, at: KeptCheck | KeptInfusion) -> tuple[Runs, ...]:
    """What runs beside an infusion or a check's, on any unit; asked only where that may be asked above."""
    own = at.infusion if isinstance(at, KeptCheck) else at.id
    others = [each for each in reader.running() if each.id != own]
    in_force = reader.in_force([each.id for each in others]) if others else {}
    units = {each.unit: unit_name(reader, each.unit) for each in others}
    return tuple(
        runs_at(at, each, unit_name=units[each.unit], known=_known_by(in_force.get(each.id)))
        for each in others
    )


def runs_at(at: KeptCheck | KeptInfusion, other: KeptInfusion, *, unit_name: str, known: Known) -> Runs:
    """Another infusion as the judge of a check, or of an infusion, is told of it."""
    return Runs(
        infusion=other.id,
        unit=other.unit,
        unit_name=unit_name,
        bed=other.bed,
        here=(other.unit, other.bed) == (at.unit, at.bed),
        patient=known.patient.get("identifier", ""),
    )


def running_against(reader: Reader, infusion: InfusionState) -> tuple[KeptInfusion, ...]:
    """What runs, by the log, and cannot run beside an infusion that runs; nearly always nothing."""
    if not infusion.is_running:
        return ()
    others = [each for each in sorted(infusion.beside) if load_infusion(reader, each).is_running]
    return tuple(kept for each in others if (kept := reader.find_infusion(each)) is not None)


def _known_by(kept: KeptComparison | None) -> Known:
    return NOTHING_KNOWN if kept is None else known_by(kept.opened["case"])


def _contents_of(comparisons: tuple[KeptComparison, ...]) -> dict[int, object]:
    """Drug and strength by round, as both read them on the label; of one round there is nothing to tell."""
    of_sources = [each for each in comparisons if each.subject == SOURCES]
    if len(of_sources) < _TO_TELL_APART:
        return {}
    return {each.round: read for each in of_sources if (read := _label_of(each.case).content) is not None}


@dataclass(frozen=True, kw_only=True)
class _Label:
    """Drug and strength as both read them on the label, and whether it is of another strength than before."""

    content: tuple[str, Fraction] | None
    has_other_strength: bool


# A list loads many checks again and again, and reading a case takes longer than all else of it.
@lru_cache(maxsize=_COMPARISONS)
def _label_of(opened: bytes) -> _Label:
    case = read_without_library(json.loads(opened)["case"])
    if isinstance(case, CaseError):
        return _Label(content=None, has_other_strength=False)
    return _Label(content=on_label(case), has_other_strength=has_other_strength(case))


def _facts_of(check: KeptCheck, plan: Plan, comparisons: tuple[KeptComparison, ...]) -> tuple[str, ...]:
    """What else the steps of a plan ask, of the kind and of what was compared last."""
    kind = kind_named(check.kind)
    facts = kind.facts
    of_sources = [each for each in comparisons if each.subject == SOURCES]
    # By a list from before a set-up could put a part-used one on, the steps for a new one stay.
    has_steps = not kind.may_be_on_again or plan.asks_of(PART_USED)
    if of_sources and of_sources[-1].loaded_again and has_steps:
        facts = (*facts, PART_USED)
    if not of_sources or not plan.asks_of(OTHER_STRENGTH):
        return facts
    return (*facts, OTHER_STRENGTH) if _label_of(of_sources[-1].case).has_other_strength else facts


def _results_of(comparisons: tuple[KeptComparison, ...]) -> Results:
    """What the fold needs of the kept comparisons."""
    findings, priming = {}, {}
    for each in comparisons:
        if each.subject == PRIMING:
            priming[each.round] = bool(each.told["within"])
        else:
            findings[each.round] = findings_in(each.told)
    return Results(findings=findings, priming=priming)


def _plan_of(check: KeptCheck, rules: Rules, comparisons: tuple[KeptComparison, ...]) -> Plan | None:
    """The plan that the latest comparison settled on; before that, the kind's first stands in."""
    plans = kind_named(check.kind).plans
    if not plans:
        return None
    named = [each.told["plan"] for each in comparisons if each.subject == SOURCES]
    return rules.plan(named[-1] if named else plans[0])


def unit_name(reader: Reader, unit_id: str) -> str:
    """A unit's name; its id where there is none."""
    unit = reader.find_unit(unit_id)
    return unit.name if unit else unit_id


def rules_in_force(reader: Reader, at: datetime, *, unit: str = "") -> Rules:
    """What was in force at a moment, on a unit where one is named."""
    return Rules(published=reader.published(at=at), unit=unit)
