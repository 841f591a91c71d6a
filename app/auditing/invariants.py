"""The invariants: what must hold of everything that is stored, after any act, any crash and any restart.

One function checks them all; the tests call it after every scenario, and `countersign invariants` any time.
Two of them are about what a person was told (9 and 10): here stands the half of each that can be seen
in what is stored. What is broken is named by check and rule, never by a value.
"""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from app.auditing.recomputing import (
    Logged,
    Stored,
    commitment_of,
    differing_in_record,
    load_stored,
    logged,
    recomputed,
    signed_as_stored,
    why_not_signable,
)
from app.auditing.recounting import differing_accounts
from app.auditing.verifying_flat_rows import failing_flat_rows
from app.auditing.verifying_rows import failing_rows_of_site
from app.base import Method
from app.records import events
from app.records.canonical import digest
from app.records.formats import UnknownFormatError
from app.records.infusion import fold_infusion
from app.records.kept import FIRST, PRIMING, SECOND, SOURCES, Entry
from app.records.life import LIVES
from app.records.restarting import held_back
from app.records.state import CheckState, Phase
from app.records.told_rows import Told, told_by
from app.site.installation import Site
from app.site.loading import Loaded
from app.storage import Reader

PAGE = 500


class Invariant(StrEnum):
    """What must hold; the words are for the person who reads that it does not."""

    ONE_READING = "1: one reading a person and round; two different people; whoever helps is a third"
    READING_STANDS = "2: a reading never changes after it was handed in"
    NOTHING_SHOWN = "3: no value is readable before both have handed in"
    ONE_VERDICT = "4: one comparison for a round that both handed in, equal to its recomputation"
    SIGNABLE = "5: a signature is over a record that may be signed, by one of the two, once each"
    ONE_RECORD = "6: a PDF exists only over two signatures of one digest"
    LOG_WHOLE = "7: the log has no gap and says what its entries say"
    SAME_BYTES = "8: making a record again gives the same bytes"
    NOTHING_HALF = "9: what one act writes is there whole"
    NOT_BETTER = "10: no check is called better than what is stored"
    CLOCK = "11: no clearance outlives the site's time"
    NOT_STUCK = "12: every check stands where a person can go on or give it up"
    ONE_ACCOUNT = "13: an account is what was read, counted once more apart from its fold"


@dataclass(frozen=True, kw_only=True)
class Broken:
    """One invariant that does not hold of one check, or of the log, and in which way."""

    invariant: Invariant
    check: str
    what: str


def check_invariants(site: Site, now: datetime) -> tuple[Broken, ...]:
    """Everything that is broken; empty when all hold."""
    with site.store.read() as reader:
        return tuple(_all_broken(site, reader, now))


def _all_broken(site: Site, reader: Reader, now: datetime) -> Iterator[Broken]:
    checks: list[str] = []
    told: list[Told] = []
    position = 0
    while entries := reader.log_entries(after=position, limit=PAGE):
        for entry in entries:
            position += 1
            yield from _log_entry(entry, position)
            row = None if entry.check else told_by(entry)
            told += [row] if row else []
            if isinstance(entry.event, events.CheckOpened):
                checks.append(entry.check)
        position = entries[-1].position
    if position != reader.head():
        yield Broken(invariant=Invariant.LOG_WHOLE, check="", what="the log's head is not its last entry")
    yield from _named(Invariant.NOTHING_HALF, "", _rows_of_site(site, reader, told))
    waiting = {check for check, _, _ in reader.uncompared()}
    log = logged(reader)
    for check in checks:
        stored = stored_of_check(site, reader, check, now=now, log=log)
        yield from broken_of_check(reader, stored, waiting=check in waiting)
        if not isinstance(stored, Broken):
            yield from _named(Invariant.NOTHING_HALF, check, _flat_rows(reader, stored))
    yield from _named(Invariant.ONE_ACCOUNT, "", differing_accounts(reader, now))


def _rows_of_site(site: Site, reader: Reader, told: Sequence[Told]) -> Iterator[str]:
    """Rows that belong to no check: each is what the log says of it, and the log tells of each."""
    yield from (f"{each.about}: {each.what}" for each in failing_rows_of_site(site, reader, told))


def _flat_rows(reader: Reader, stored: Stored) -> Iterator[str]:
    """Flat rows of a check: each is what the check comes to, and none is missing."""
    yield from (f"{each.about}: {each.what}" for each in failing_flat_rows(reader, stored))


def _log_entry(entry: Entry, position: int) -> Iterator[Broken]:
    if entry.position != position:
        yield Broken(invariant=Invariant.LOG_WHOLE, check=entry.check, what=f"no entry {position}")
    if not _says_what_it_says(entry):
        yield Broken(
            invariant=Invariant.LOG_WHOLE,
            check=entry.check,
            what=f"entry {entry.position} is not what was written",
        )


def _says_what_it_says(entry: Entry) -> bool:
    written = json.loads(entry.canonical)
    columns = {
        "position": entry.position,
        "by": entry.by,
        "infusion": entry.infusion,
        "check": entry.check,
        "session": entry.session,
        "device": entry.device,
        "kind": entry.event.kind,
    }
    return (
        columns.items() <= written.items()
        and datetime.fromisoformat(written["at"]) == entry.at
        and _moment(written["signed_in_at"]) == entry.signed_in_at
    )


def _moment(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)


def stored_of_check(site: Site, reader: Reader, check: str, *, now: datetime, log: Logged) -> Stored | Broken:
    """Everything of one check, or that it is not there, or cannot be read."""
    try:
        stored = load_stored(site, reader, check, now=now, log=log)
    except Exception as error:  # noqa: BLE001  # what is damaged may fail in any way, and is to be named
        return _not_computed(Invariant.NOTHING_HALF, check, error)
    if stored is None:
        return Broken(invariant=Invariant.NOTHING_HALF, check=check, what="it was opened and is not there")
    return stored


def broken_of_check(reader: Reader, stored: Stored | Broken, *, waiting: bool) -> Iterator[Broken]:
    """What is broken of one check."""
    if isinstance(stored, Broken):
        yield stored
        return
    check, loaded = stored.loaded.state.check.id, stored.loaded
    for invariant, found in (
        (Invariant.ONE_READING, _one_reading(stored)),
        (Invariant.READING_STANDS, _reading_stands(stored)),
        (Invariant.NOTHING_SHOWN, _nothing_shown(stored)),
        (Invariant.ONE_VERDICT, _one_verdict(stored, waiting=waiting)),
        (Invariant.SIGNABLE, _signable(reader, stored)),
        (Invariant.ONE_RECORD, _one_record(stored)),
        (Invariant.SAME_BYTES, _same_bytes(reader, stored)),
        (Invariant.NOTHING_HALF, _nothing_half(stored)),
        (Invariant.NOT_BETTER, _not_better(stored)),
        (Invariant.CLOCK, _clock(stored)),
        (Invariant.NOT_STUCK, _not_stuck(loaded.state, waiting=waiting)),
    ):
        yield from _named(invariant, check, found)


def _named(invariant: Invariant, check: str, found: Iterator[str]) -> Iterator[Broken]:
    try:
        for what in found:
            yield Broken(invariant=invariant, check=check, what=what)
    except Exception as error:  # noqa: BLE001  # as above
        yield _not_computed(invariant, check, error)


def _not_computed(invariant: Invariant, check: str, error: Exception) -> Broken:
    # The kind of the fault alone: its message may hold a value; that of an unknown format holds none.
    why = error.says if isinstance(error, UnknownFormatError) else type(error).__name__
    return Broken(invariant=invariant, check=check, what=f"it cannot be computed: {why}")


def _one_reading(stored: Stored) -> Iterator[str]:
    holders = {each.slot: each.person for each in stored.participants}
    if len(holders) != len(stored.participants) or len(set(holders.values())) != len(holders):
        yield "a slot or a person twice"
    places = [(each.subject, each.round, each.slot) for each in stored.readings]
    if len(set(places)) != len(places):
        yield "two readings of one person in a round"
    if any(holders.get(each.slot) != each.person for each in stored.readings):
        yield "a reading by somebody who does not hold its slot"
    if {each.person for each in stored.helpers} & set(holders.values()):
        yield "one of the two helped"
    turns = [(each.help, each.turn) for each in stored.helpers]
    if any(turn > 1 and (asked, turn - 1) not in turns for asked, turn in turns):
        yield "a request for help was taken over from nobody"


def _reading_stands(stored: Stored) -> Iterator[str]:
    promised = {
        (each.event.subject, each.event.round, each.event.slot): each.event.commitment
        for each in stored.entries
        if isinstance(each.event, events.HandedIn)
    }
    for kept in stored.readings:
        place = (kept.subject, kept.round, kept.slot)
        if not promised.get(place) == kept.commitment == commitment_of(stored.site, kept):
            yield f"the reading of slot {kept.slot}, {kept.subject}, round {kept.round}"


def _nothing_shown(stored: Stored) -> Iterator[str]:
    both = _handed_in_by_both(stored)
    for kept in stored.loaded.comparisons:
        # A primed volume is read by one, and in clear beside the round that it was judged with.
        number = kept.opened.get("against") if kept.subject == PRIMING else kept.round
        if (SOURCES, number) not in both:
            yield f"{kept.subject}, round {kept.round}, is in clear"
    if len({len(each.envelope) for each in stored.readings}) > 1:
        yield "sealed readings of different sizes"


def _handed_in_by_both(stored: Stored) -> set[tuple[str, int]]:
    slots: dict[tuple[str, int], set[int]] = {}
    for each in stored.readings:
        slots.setdefault((each.subject, each.round), set()).add(each.slot)
    return {place for place, held in slots.items() if held == {FIRST, SECOND}}


def _one_verdict(stored: Stored, *, waiting: bool) -> Iterator[str]:
    state = stored.loaded.state
    compared = {(each.subject, each.round) for each in stored.loaded.comparisons}
    told = [
        (each.event.subject, each.event.round)
        for each in stored.entries
        if isinstance(each.event, events.Compared)
    ]
    if sorted(told) != sorted(compared):
        yield "the log and the comparisons are not the same"
    for each in state.rounds:
        both = (SOURCES, each.number) in _handed_in_by_both(stored)
        if (
            both
            and not each.voided
            and (SOURCES, each.number) not in compared
            and not _may_wait(state, waiting)
        ):
            yield f"round {each.number} was not compared"
        if each.voided and (SOURCES, each.number) in compared:
            yield f"round {each.number} was voided and compared"
    yield from (
        f"{each.subject}, round {each.round}, is not what its readings come to"
        for each in stored.loaded.comparisons
        if not recomputed(stored, each)
    )


def _may_wait(state: CheckState, waiting: bool) -> bool:  # noqa: FBT001  # a fact that is passed on
    """The sweeper will compare it, or nobody will any more."""
    return waiting or state.phase is Phase.ABANDONED


def _signable(reader: Reader, stored: Stored) -> Iterator[str]:
    records = {each.edition: each for each in stored.frozen}
    holders = {each.slot: each.person for each in stored.participants}
    places = [(each.edition, each.slot) for each in stored.signatures]
    if len(set(places)) != len(places):
        yield "two signatures of one person over one edition"
    for signed in stored.signatures:
        record = records.get(signed.edition)
        if record is None or record.digest != signed.digest or digest(record.document) != record.digest:
            yield f"edition {signed.edition}: what slot {signed.slot} signed is not what is stored"
            continue
        if holders.get(signed.slot) != signed.person:
            yield f"edition {signed.edition}: signed by somebody who does not hold slot {signed.slot}"
        session = reader.find_session(signed.session)
        if session is not None and session.method == Method.PIN:
            yield f"edition {signed.edition}: slot {signed.slot} signed where only six digits were given"
        if not signed_as_stored(stored, signed, record.document):
            yield f"edition {signed.edition}: no key of slot {signed.slot} that the log names signed it so"
    for edition in sorted({each.edition for each in stored.signatures} & records.keys()):
        yield from (f"edition {edition}: {why}" for why in why_not_signable(records[edition].told))


def _one_record(stored: Stored) -> Iterator[str]:
    issued = {
        each.event.edition: each.event.pdf_digest
        for each in stored.entries
        if isinstance(each.event, events.RecordIssued)
    }
    for edition, pdf in stored.pdfs.items():
        signed = [each.digest for each in stored.signatures if each.edition == edition]
        if len(signed) != len((FIRST, SECOND)) or len(set(signed)) != 1:
            yield f"edition {edition} has a PDF without two signatures of one digest"
        if pdf is None or not issued.get(edition) == pdf.digest == digest(pdf.content):
            yield f"edition {edition}: the PDF is not the one that was issued"
    if issued.keys() != stored.pdfs.keys():
        yield "the log and the PDFs are not the same"


def _same_bytes(reader: Reader, stored: Stored) -> Iterator[str]:
    for record in stored.frozen:
        for where in differing_in_record(reader, stored, record):
            yield f"edition {record.edition} of the record: {where}"


def _nothing_half(stored: Stored) -> Iterator[str]:
    """Each row has its event and each event its row; both are written by one act."""
    pairs = (
        (events.Joined.kind, len(stored.participants)),
        (events.HandedIn.kind, len(stored.readings)),
        (events.RecordFrozen.kind, len(stored.frozen)),
        (events.Signed.kind, len(stored.signatures)),
        (events.HelpTaken.kind, len(stored.helpers)),
    )
    kinds = [each.event.kind for each in stored.entries]
    yield from (f"{kind}: rows and entries differ" for kind, rows in pairs if kinds.count(kind) != rows)


def _not_better(stored: Stored) -> Iterator[str]:
    state = stored.loaded.state
    signed = {each.slot for each in stored.signatures if each.edition == state.edition}
    rests_on_both = (Phase.CLEARED, Phase.LAPSED, Phase.STARTED, Phase.DONE)
    if state.phase in rests_on_both and signed != {FIRST, SECOND}:
        yield f"called {state.phase.value} without both signatures"
    if state.phase not in LIVES[state.check.kind].follows:
        yield f"called {state.phase.value}, which a check of its kind never is"
    if state.phase is Phase.STARTED and not {FIRST, SECOND} <= state.last_looks:
        yield "called started without both last looks"
    yield from _held_back(stored.loaded)


def _held_back(loaded: Loaded) -> Iterator[str]:
    """What an emergency had left on the infusion when this check led to its start."""
    state = loaded.state
    started = (each for each in loaded.entries if each.check == state.check.id)
    for each in (each for each in started if isinstance(each.event, events.Started)):
        told = (before for before in loaded.entries if before.position < each.position)
        before = fold_infusion(state.check.infusion, told)
        back = held_back(before, state.kind, loaded.policy, each.at)
        if back is not None:
            yield f"started although {back.why.value}"


def _clock(stored: Stored) -> Iterator[str]:
    state = stored.loaded.state
    if state.started_at is not None and state.cleared_at is not None:
        taken = state.started_at - state.cleared_at
        if taken > stored.loaded.policy.clearance:
            yield "started after its clearance had lapsed"


def _not_stuck(state: CheckState, *, waiting: bool) -> Iterator[str]:
    if not state.has_ended and not LIVES[state.check.kind].follows.get(state.phase):
        yield f"{state.phase.value} leads nowhere"
    if state.is_to_be_frozen:
        yield "everything is agreed and confirmed, and no record was frozen"
    if state.phase is Phase.SIGNING and {FIRST, SECOND} <= set(state.signatures):
        yield "both have signed, and it is not done"
    if state.phase is Phase.BOTH_HANDED_IN and not waiting:
        yield "both have handed in, and nobody will compare it"
