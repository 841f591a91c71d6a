"""What lists ask of the checks and infusions of a unit, in SQL and of the states of each."""

from datetime import datetime

from app.records import events
from app.records.issued import issued_in, out_of
from app.records.kept import SOURCES, KeptCheck, KeptInfusion
from app.records.state import ENDED, Phase
from app.site.loading import Loaded, load_check, load_infusion
from app.storage import OfChecks, OfInfusions, Reader


def listed(reader: Reader, unit: str) -> dict[str, set[str]]:
    """Which checks and infusions the lists name, by what is asked."""
    checks = {asked: {each.id for each in reader.checks_that(asked, unit)} for asked in OfChecks}
    infusions = {asked: {each.id for each in reader.infusions_that(asked, unit)} for asked in OfInfusions}
    running = [each.id for each in reader.running() if each.unit == unit]
    in_force = reader.in_force(running).items()
    by_bed = {each.bed for each in _now_on(reader, unit)}
    return {
        **{each.name: found for each, found in [*checks.items(), *infusions.items()]},
        "IN_FORCE": {f"{infusion}: {kept.check}, {kept.round}" for infusion, kept in in_force},
        "OPEN_AT": {each.id for bed in by_bed for each in reader.open_checks_at(unit, bed)},
        "ALIVE_AT": {each.id for bed in by_bed for each in reader.alive_at(unit, bed)},
    }


def folded(reader: Reader, unit: str, now: datetime) -> dict[str, set[str]]:
    """The same from the states of all that there are."""
    loaded = [load_check(reader, KeptCheck(**each), now) for each in reader.rows("check", unit=unit)]
    checks = [each.state for each in loaded]
    infusions = [load_infusion(reader, each.id) for each in _now_on(reader, unit)]
    is_open = [each.check for each in checks if each.phase not in ENDED]
    has_one_open = {each.infusion for each in is_open}
    return {
        "OPEN_AT": {each.id for each in is_open},
        "ALIVE_AT": {
            each.infusion
            for each in infusions
            if each.goes_on or each.is_unchecked or each.infusion in has_one_open
        },
        "OPEN": {each.id for each in is_open},
        "WAITS": {each.check.id for each in checks if each.phase is Phase.OPENED},
        "ASKED_FOR_HELP": {each.check.id for each in checks if each.open_help is not None},
        "SIGNED": {
            each.state.check.id for each in loaded if _is_signed(each) and each.state.phase not in ENDED
        },
        "RUNS": {each.infusion for each in infusions if each.is_running},
        "END_IS_DUE": {each.infusion for each in infusions if each.end_is_due},
        "UNCHECKED": {each.infusion for each in infusions if each.is_unchecked},
        "ENDED": {each.infusion for each in infusions if each.ended_at is not None},
        "ACCOUNT_OPEN": {each.infusion for each in infusions if each.left_open is not None},
        "TAKEN": {each.infusion for each in infusions if each.transfer is not None},
        "ISSUED": {each.infusion for each in infusions if out_of(issued_in(reader.course(each.infusion)))},
        "GOES_ON": {each.infusion for each in infusions if each.goes_on},
        "TOLD": {each.infusion for each in infusions if each.emergencies.is_told},
        "IN_FORCE": {
            f"{each.infusion}: {each.in_force}, {_last_compared(reader, each.in_force)}"
            for each in infusions
            if each.is_running and each.in_force
        },
    }


def _now_on(reader: Reader, unit: str) -> list[KeptInfusion]:
    found = [reader.find_infusion(each["id"]) for each in reader.rows("infusion")]
    return [each for each in found if each is not None and each.unit == unit]


def _is_signed(loaded: Loaded) -> bool:
    kinds = (events.Signed, events.ClearanceLapsed, events.NextReadingOpened)
    own = (each.event for each in loaded.entries if each.check == loaded.state.check.id)
    happened = [event for event in own if isinstance(event, kinds)]
    return bool(happened) and isinstance(happened[-1], events.Signed)


def _last_compared(reader: Reader, check: str) -> int:
    return [each.round for each in reader.comparisons(check) if each.subject == SOURCES][-1]
