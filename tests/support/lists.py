"""What lists ask of the checks and infusions of a unit, in SQL and of the states of each."""

from datetime import datetime

from app.records.kept import KeptCheck
from app.records.state import ENDED, Phase
from app.site.loading import load_check, load_infusion
from app.storage import OfChecks, OfInfusions, Reader


def listed(reader: Reader, unit: str) -> dict[str, set[str]]:
    """Which checks and infusions the lists name, by what is asked."""
    checks = {asked: {each.id for each in reader.checks_that(asked, unit)} for asked in OfChecks}
    infusions = {asked: {each.id for each in reader.infusions_that(asked, unit)} for asked in OfInfusions}
    return {each.name: found for each, found in [*checks.items(), *infusions.items()]}


def folded(reader: Reader, unit: str, now: datetime) -> dict[str, set[str]]:
    """The same from the states of all that there are."""
    checks = [load_check(reader, KeptCheck(**each), now).state for each in reader.rows("check", unit=unit)]
    infusions = [load_infusion(reader, each["id"]) for each in reader.rows("infusion", unit=unit)]
    return {
        "OPEN": {each.check.id for each in checks if each.phase not in ENDED},
        "WAITS": {each.check.id for each in checks if each.phase is Phase.OPENED},
        "ASKED_FOR_HELP": {each.check.id for each in checks if each.open_help is not None},
        "RUNS": {each.infusion for each in infusions if each.is_running},
        "STOPPED": {each.infusion for each in infusions if each.is_stopped},
        "UNCHECKED": {each.infusion for each in infusions if each.is_unchecked},
        "ENDED": {each.infusion for each in infusions if each.ended_at is not None},
        "GOES_ON": {each.infusion for each in infusions if each.goes_on},
    }
