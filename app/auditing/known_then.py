"""What was known when a round was compared, told again from the log: it is not what is known today."""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from app.records import events
from app.records.beds import place_then
from app.records.infusion import InfusionState, fold_infusion
from app.records.kept import LETTER_OF, SOURCES, Entry, KeptCheck, KeptComparison
from app.records.kinds import kind_named
from app.records.known import Known, Runs
from app.records.names import NamesInLog
from app.records.reading import Answers
from app.site.issued import with_issued_then
from app.site.loading import Loaded, known_of, orders_on_record, runs_at, with_account
from app.site.record import names_at
from app.storage import Reader


def known_then(
    reader: Reader, loaded: Loaded, entries: tuple[Entry, ...], log: NamesInLog
) -> dict[int, Known]:
    """What each round was compared with: what was known then, which is not what is known today."""
    check = loaded.state.check
    told = {each.round: each.told for each in loaded.comparisons if each.subject == SOURCES}
    answers = {each.round: _answers_in(each) for each in loaded.comparisons if each.subject == SOURCES}
    known = {}
    for each in entries:
        if isinstance(each.event, events.Compared) and each.event.subject == SOURCES:
            then = known_of(reader, _then_of(reader, check.infusion, each.position))
            beds = {(kept["unit"], kept["bed"]) for kept in told.get(each.event.round, {}).get("running", ())}
            names = {unit: _unit_then(reader, unit, log, each.position) for unit, _ in beds}
            running = _running(reader, check, beds, names=names, position=each.position)
            kind = kind_named(check.kind)
            read = answers.get(each.event.round)
            orders = orders_on_record(reader, loaded, read, at=each.at, before=each.position) if read else ()
            then = with_account(
                replace(then, running=running, orders=orders),
                kind,
                reader,
                check.infusion,
                before=each.position,
            )
            issued = told.get(each.event.round, {}).get("issued", ())
            then = with_issued_then(then, kind, reader, check.infusion, before=each.position, kept=issued)
            known[each.event.round] = then.given_to(kind)
    return known


def _answers_in(kept: KeptComparison) -> dict[int, Answers]:
    return {slot: kept.opened["answers"][letter] for slot, letter in LETTER_OF.items()}


def _then_of(reader: Reader, infusion: str, position: int) -> InfusionState:
    return fold_infusion(infusion, (each for each in reader.course(infusion) if each.position < position))


def _unit_then(reader: Reader, unit: str, log: NamesInLog, position: int) -> str:
    return names_at(reader, unit, (), log=log, position=position).unit


def _running(
    reader: Reader,
    check: KeptCheck,
    beds: Iterable[tuple[str, str]],
    *,
    names: Mapping[str, str],
    position: int,
) -> tuple[Runs, ...]:
    """What ran then at the beds that a comparison names: that nothing else ran is not looked for."""
    others = {each.id: each for place in beds for each in reader.infusions_ever_at(*place)}
    found = []
    for now in sorted(others.values(), key=lambda each: (each.opened_at, each.id)):
        unit, bed = place_then((now.unit, now.bed), reader.course(now.id), position)
        other = replace(now, unit=unit, bed=bed)
        if other.id == check.infusion or (other.unit, other.bed) not in {*beds}:
            continue
        then = _then_of(reader, other.id, position)
        if then.is_running:
            known = known_of(reader, then)
            found.append(runs_at(check, other, unit_name=names[other.unit], known=known))
    return tuple(found)
