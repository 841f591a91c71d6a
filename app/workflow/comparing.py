"""Compare a round: open both readings, let the engine decide, keep case and result."""

import logging
from dataclasses import replace
from datetime import datetime

from app.judging.rounds import compared, priming_judged
from app.keys import new_salt
from app.records import events
from app.records.kept import FIRST, PRIMING, SECOND, SOURCES, KeptComparison, KeptReading
from app.records.life import Action, may_be_done
from app.records.reading import Answers, latest
from app.records.state import CheckState
from app.site.flat_rows import keep_findings
from app.site.installation import Site
from app.site.issued import with_issued
from app.site.loading import (
    Loaded,
    known_of,
    lock_and_load,
    orders_on_record,
    running_beside,
    with_account,
)
from app.site.readings import open_reading, own_latest
from app.storage import Reader, Transaction
from app.workflow.closing_accounts import leave_open
from app.workflow.freezing import freeze_if_complete

_log = logging.getLogger(__name__)


def compare_round(site: Site, check_id: str, now: datetime) -> bool:
    """Compare the current round if both have handed in and nobody has compared it; safe at any time."""
    with site.store.write() as tx:
        loaded = lock_and_load(tx, check_id, now)
        if loaded is None or not may_be_done(Action.COMPARE, loaded.state):
            return False
        before = tx.head() + 1
        kept = make_comparison(site, tx, loaded, now, before=before)
        entry = tx.append(
            events.Compared(subject=SOURCES, round=kept.round),
            at=now,
            check=check_id,
            infusion=loaded.state.check.infusion,
        )
        if entry.position != before:
            # Something came into the log meanwhile, and may be an order; from here on nothing can.
            kept = make_comparison(site, tx, loaded, now, before=entry.position)
        tx.add_comparison(kept)
        keep_findings(site, tx, loaded, kept)
        # A volume that was read before is judged beside what is agreed now.
        primed = judge_primed_volume(site, tx, loaded.after(tx.appended, (kept,)), now)
        leave_open(tx, loaded.after(tx.appended, (kept, *primed)), now)
        freeze_if_complete(tx, loaded.after(tx.appended, (kept, *primed)), at=now)
    return True


def compare_before_its_end(site: Site, check_id: str, now: datetime) -> None:
    """The same before a check is ended: what both had read by then, and found, is not lost with it.

    It has a transaction of its own, as after the second hand-in. One that cannot be made keeps nobody from
    ending the check, which then leaves what it had left without; whoever runs the program is told.
    """
    try:
        compare_round(site, check_id, now)
    except Exception as error:  # noqa: BLE001  # whatever it is, the check must end
        # Its kind alone: what it says could hold values.
        _log.error("a check ends, and was not compared before: %s", type(error).__name__)


def judge_primed_volume(
    site: Site, tx: Transaction, loaded: Loaded, now: datetime
) -> tuple[KeptComparison, ...]:
    """Judge the primed volume that stands, once the readings agree: until then it would tell of the set."""
    state, against = loaded.state, loaded.last_comparison
    waits = state.current is None or state.current.compared_at is None or state.must_read_again
    if against is None or waits or not state.priming_handed_in:
        return ()
    (slot,) = state.priming_handed_in
    reading = state.priming_round - 1
    read = tx.find_reading(state.check.id, PRIMING, reading, slot)
    assert isinstance(read, KeptReading)  # noqa: S101  # it was handed in
    volume = open_reading(site, read)["priming"]["volume"]
    engine, case, result = priming_judged(volume, by=slot, reading=reading, against=against)
    judged = KeptComparison(
        check=state.check.id,
        subject=PRIMING,
        round=state.priming_judged + 1,
        at=now,
        engine=engine,
        case=case,
        result=result,
    )
    tx.add_comparison(judged)
    tx.append(events.Compared(subject=PRIMING, round=judged.round), at=now, check=state.check.id)
    keep_findings(site, tx, loaded, judged)
    return (judged,)


def make_comparison(
    site: Site, reader: Reader, loaded: Loaded, now: datetime, *, before: int
) -> KeptComparison:
    """Case and result of the current round, from each clinician's latest value of every field.

    `before` is the position that the comparison has in the log: later orders are none of its own.
    """
    state = loaded.state
    current = state.current
    assert current is not None  # noqa: S101  # both have handed in
    running = running_beside(reader, state.check)
    answers = {slot: _latest_with_current(site, reader, state, slot) for slot in (FIRST, SECOND)}
    orders = orders_on_record(reader, loaded, answers, at=now, before=before)
    known = with_account(
        replace(known_of(reader, loaded.infusion), running=running, orders=orders),
        state.kind,
        reader,
        state.check.infusion,
    )
    known = with_issued(known, state.kind, reader, state.check.infusion, log=loaded.entries)
    known = known.given_to(state.kind)
    engine, case, result = compared(
        state.kind, loaded.rules, current, answers, known=known, salt=_salt(loaded)
    )
    return KeptComparison(
        check=state.check.id,
        subject=SOURCES,
        round=current.number,
        at=now,
        engine=engine,
        case=case,
        result=result,
    )


def _salt(loaded: Loaded) -> str:
    """One salt for all rounds of a check, so that a finding that stays is known again.

    A check that was first compared without one goes on without.
    """
    earlier = [each for each in loaded.comparisons if each.subject == SOURCES]
    return str(earlier[0].told.get("salt", "")) if earlier else new_salt().hex()


def _latest_with_current(site: Site, reader: Reader, state: CheckState, slot: int) -> Answers:
    """One clinician's latest values, the round that is compared now included."""
    current = state.current
    assert current is not None  # noqa: S101
    kept = reader.find_reading(state.check.id, SOURCES, current.number, slot)
    assert isinstance(kept, KeptReading)  # noqa: S101  # both have handed in
    before = own_latest(site, reader, state, slot)
    return latest([(state.kind.reads, before), (current.scope, open_reading(site, kept))])
