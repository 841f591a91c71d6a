"""Judge a round: what two readings come to, by the judges that the kind of check names."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from typing import Any

from app.comparison import CaseError, Result, Verdict, read_without_library, verdict_by
from app.comparison.changed import what_changed
from app.judging.account import MEANWHILE, MEANWHILE_COMING_OFF, AccountJudged, judge_account
from app.judging.beside import none_is_an_answer, not_read, not_said_before, over_its_barrel, read_alike
from app.judging.elsewhere import Beside, beside, runs_elsewhere
from app.judging.engine import evaluated
from app.judging.findings import kept
from app.judging.in_force import looked_at_again, not_in_force
from app.judging.issued import bearing_on, judge_end, judge_label
from app.judging.loaded_again import LoadedAgain, is_part_used, judge_loaded_again, part_left_apart
from app.judging.on_device import OnDevice, judge_on_device
from app.judging.on_record import orders_unclear, with_order_on_record
from app.judging.protocol import judge_bedside
from app.records.account_entries import label_content
from app.records.case import build_case, entry
from app.records.fields import find_field
from app.records.followup import Found, by_severity
from app.records.kept import FIRST, SECOND, A, B
from app.records.kinds import Kind
from app.records.known import Known, known_by
from app.records.reading import Answers, Scope, fields_in, sources_in
from app.records.sources import JudgedBy, Source
from app.records.steps import DEDICATED_LINE, WITH_CARRIER, plan_name


@dataclass(frozen=True, kw_only=True)
class Read:
    """One clinician's latest answers, and when they were handed in: in the zone where the label is read."""

    answers: Answers
    at: datetime


@dataclass(frozen=True, kw_only=True)
class Against:
    """The rules that a round is judged by, in the words of the engine's contract."""

    policy: Mapping[str, Any]
    library: Mapping[str, Any]
    account: Mapping[str, Any] = field(default_factory=dict)
    protocol: Mapping[str, Any] = field(default_factory=dict)
    in_use: timedelta = timedelta.max


@dataclass(frozen=True, kw_only=True)
class Judged:
    """What a round came to: the engine's case, the findings of all judges, worst first, and the figures.

    `account` is what the account comes to, where there is one that both readings can belong to.
    `changed` is what is changed of the settings in force, figure by figure, in a kind that changes them.
    `issued` are the syringes that were issued and bear on it; `loaded_again` is the name of the part-used one
    that is loaded again, blank where it is another.
    `unseen` is that of one that is on, and nobody had checked there.
    `not_judged` names what nobody looked at, as it was not read or the site has set nothing for it.
    """

    case: Mapping[str, Any]
    findings: tuple[Found, ...]
    not_judged: tuple[str, ...]
    math: Mapping[str, Any]
    delivery: Mapping[str, Any]
    beside: tuple[Beside, ...]
    plan: str
    engine: str
    account: Mapping[str, Any] | None = None
    changed: tuple[Mapping[str, Any], ...] = ()
    issued: tuple[Mapping[str, Any], ...] = ()
    loaded_again: str = ""
    unseen: str = ""

    @property
    def verdict(self) -> Verdict:
        """The verdict that the worst finding makes."""
        return verdict_by(each.severity for each in self.findings)


@dataclass(frozen=True, kw_only=True)
class _Asked:
    """What a judge may look at.

    In `first` and `second` what one alone read (`by_one`) counts as read by both; `entry` is the second in
    the engine's words, and `read` is as each read it.
    """

    kind: Kind
    first: Answers
    second: Answers
    read: Mapping[str, Answers]
    by_one: frozenset[Source]
    entry: Mapping[str, Any]
    known: Known
    rules: Against
    result: Result
    beside: tuple[Beside, ...]
    case: Mapping[str, Any]

    @property
    def lot(self) -> str:
        """The lot on the label; blank where none was read."""
        return str(known_by(self.case).syringe.get("lot") or "")


# What was found already is not found twice.
_Judge = Callable[[_Asked, Sequence[Found]], Iterable[Found]]


def _of_engine(asked: _Asked, _: Sequence[Found]) -> Iterable[Found]:
    # The engine misses also what this kind does not read, as the monitor where a syringe is changed.
    found = (each for each in map(kept, asked.result.findings) if _is_read(asked.kind, each))
    return looked_at_again(found, asked.by_one) if asked.kind.is_held_beside else found


def _in_force(asked: _Asked, already: Sequence[Found]) -> Iterable[Found]:
    found = not_in_force(asked.entry, asked.known, asked.by_one)
    return not_said_before(found, already)


def _protocol(asked: _Asked, _: Sequence[Found]) -> Iterable[Found]:
    return judge_bedside(asked.read, asked.known, asked.rules.protocol)


def _read_alike(asked: _Asked, already: Sequence[Found]) -> Iterable[Found]:
    return not_said_before(read_alike(asked.first, asked.second), already)


def _none_is_an_answer(asked: _Asked, already: Sequence[Found]) -> Iterable[Found]:
    return not_said_before(none_is_an_answer(asked.first, asked.second), already)


def _runs_elsewhere(asked: _Asked, _: Sequence[Found]) -> Iterable[Found]:
    return runs_elsewhere(asked.beside, asked.first, asked.second)


def _orders(asked: _Asked, _: Sequence[Found]) -> Iterable[Found]:
    return orders_unclear(asked.known)


def _issued(asked: _Asked, already: Sequence[Found]) -> Iterable[Found]:
    if asked.kind.ends:
        return judge_end(asked.known.issued)
    # Of a label that is not read alike yet nobody knows what it says.
    if is_part_used(asked.read) or any(each.reads_apart for each in already):
        return ()
    content = label_content(asked.case, asked.read) or {}
    return judge_label(asked.known.issued, lot=asked.lot, volume=content.get("volume", ""))


def _part_left(asked: _Asked, _: Sequence[Found]) -> Iterable[Found]:
    comes_off = asked.kind.may_be_on_again
    return part_left_apart(asked.read, asked.known, asked.rules.account, comes_off=comes_off)


# The primed volume is judged once it has been read, beside what both read: `app.judging.rounds`. The account
# and what is loaded again come last, with results of their own.
JUDGES: Mapping[JudgedBy, _Judge] = {
    JudgedBy.ENGINE: _of_engine,
    JudgedBy.READ_ALIKE: _read_alike,
    JudgedBy.NONE_IS_AN_ANSWER: _none_is_an_answer,
    JudgedBy.RUNS_ELSEWHERE: _runs_elsewhere,
    JudgedBy.ORDERS: _orders,
    JudgedBy.IN_FORCE: _in_force,
    JudgedBy.PROTOCOL: _protocol,
    JudgedBy.ISSUED: _issued,
    JudgedBy.LOADED_AGAIN: _part_left,
}


def judge(kind: Kind, first: Read, second: Read, *, known: Known, rules: Against) -> Judged:
    """What two readings come to under a site's rules, and beside what the infusion knows.

    That something asked for was not read is found for every kind, whoever judges the field; so is a label
    that says more than its barrel holds.
    """
    one, other = first.answers, second.answers
    known = with_order_on_record(known, one)
    by_one = _by_one(kind, one, other)
    case, result = evaluated(
        build_case(
            entries=(
                entry(A, one, first.at, _as_read(kind, FIRST, by_one)),
                entry(B, other, second.at, _as_read(kind, SECOND, by_one)),
            ),
            policy=rules.policy,
            library=rules.library,
            known=known,
            reads=kind.reads,
            by_one=frozenset(by_one),
        )
    )
    alone = _of(by_one, (one, other))
    first_shared, second_shared = {**alone, **one}, {**alone, **other}
    asked = _Asked(
        kind=kind,
        first=first_shared,
        second=second_shared,
        read={A: one, B: other},
        by_one=frozenset(by_one),
        entry=entry(B, second_shared, second.at, kind.reads),
        known=known,
        rules=rules,
        result=result,
        beside=beside(kind, first_shared, second_shared, known.running),
        case=case,
    )
    found: list[Found] = []
    for name in kind.judges:
        if name in JUDGES:
            found += tuple(JUDGES[name](asked, found))
    found += not_said_before(not_read(kind, one, other), found)
    # Of what is not read alike yet nobody knows what it says.
    if not any(each.reads_apart for each in found):
        found += over_its_barrel(case, {A: one, B: other})
    unseen, comes_off = OnDevice(), kind.may_be_on_again
    if JudgedBy.ON_DEVICE in kind.judges and not any(each.reads_apart for each in found):
        unseen = judge_on_device(known, case, {A: one, B: other}, rules.account)
        found += unseen.findings
    account = AccountJudged()
    if JudgedBy.ACCOUNT in kind.judges:
        # An account begins with what both read alike, of what ran.
        may_begin = not comes_off and known.begun and not any(each.reads_apart for each in found)
        of_account = known if may_begin else replace(known, begun="")
        account = judge_account(
            of_account,
            case,
            {A: one, B: other},
            rules.account,
            unseen=unseen.unseen,
            meanwhile=MEANWHILE_COMING_OFF if comes_off else MEANWHILE,
        )
        found += account.findings
    again = LoadedAgain()
    if JudgedBy.LOADED_AGAIN in kind.judges and not any(each.reads_apart for each in found):
        again = judge_loaded_again(
            known,
            case,
            {A: one, B: other},
            rules.account,
            in_use=rules.in_use,
            at=max(first.at, second.at),
            comes_off=comes_off,
        )
        found += again.findings
    made = result.as_json()
    return Judged(
        case=case,
        findings=by_severity(each for each in found if _is_read(kind, each)),
        not_judged=_not_judged(kind, result),
        math=made["math"],
        delivery=made["delivery"],
        beside=asked.beside,
        plan=_plan(kind, one, other, known),
        engine=made["engine"],
        account=account.result,
        changed=_changed(kind, case),
        issued=bearing_on(known.issued, asked.lot),
        loaded_again=again.name,
        unseen=unseen.unseen,
    )


def _changed(kind: Kind, case: Mapping[str, Any]) -> tuple[Mapping[str, Any], ...]:
    """What is changed of what is known to be in force."""
    if not kind.changes or "previous" not in case:
        return ()
    read = read_without_library(case)
    assert not isinstance(read, CaseError), read  # noqa: S101  # it was evaluated
    return tuple(each.as_json() for each in what_changed(read))


def _by_one(kind: Kind, first: Answers, second: Answers) -> dict[Source, int]:
    """What one alone of the two read, with the slot of that one."""
    return {
        Source(name): FIRST if first.get(name) or name not in dict(kind.reads_of(SECOND)) else SECOND
        for name, _ in kind.read_by_one
        if not (first.get(name) and second.get(name))
    }


def _as_read(kind: Kind, slot: int, by_one: Mapping[Source, int]) -> Scope:
    """What counts as read by one of the two: all but what the other alone read."""
    return tuple(each for each in kind.reads if by_one.get(Source(each[0]), slot) == slot)


def _of(sources: Iterable[Source], answers: Iterable[Answers]) -> Answers:
    """What either read of some sources."""
    return {each.value: given for read in answers for each in sources if (given := read.get(each.value))}


# What was primed before is held to no set: nobody has forgotten to say what it holds.
_LINE_SET = "line-set"


def _not_judged(kind: Kind, result: Result) -> tuple[str, ...]:
    """What nobody looked at of what the kind is about."""
    if not kind.reads_settings:
        return ()
    return tuple(each for each in result.not_judged if not (kind.changes and each == _LINE_SET))


def _is_read(kind: Kind, found: Found) -> bool:
    """Whether the kind reads what the finding is about, or it is computed from several things."""
    field = find_field(found.field)
    return field is None or any(
        field.name == each.name for source in field.sources for each in fields_in(kind.reads, source)
    )


def _plan(kind: Kind, first: Answers, second: Answers, known: Known) -> str:
    """The plan that both orders ask for; where they do not agree the usual one, which tells nothing.

    Where no order is read, the one of record asks for it.
    """
    if kind.plans and WITH_CARRIER not in kind.plans:
        return kind.plans[0]
    if Source.ORDER not in sources_in(kind.reads):
        return WITH_CARRIER if known.order_of_record.get("carrier") else DEDICATED_LINE
    named = {plan_name(answers.get("order", {})) for answers in (first, second)}
    return named.pop() if len(named) == 1 else WITH_CARRIER
