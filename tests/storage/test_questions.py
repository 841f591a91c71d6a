"""What a list asks in SQL is what the states say: of every check and every infusion, on each engine."""

from collections.abc import Iterator
from datetime import timedelta

import pytest

from app.records.state import ENDED, Phase
from app.site.loading import load_check, load_infusion
from app.storage import OfChecks, OfInfusions, Reader
from tests.factories.ward import IMOGEN, NADIA, RECOVERY, RUTH, TOMAS, WARD, Ward, open_ward
from tests.story.script import WAYS


@pytest.fixture
def ward(database_url: str) -> Iterator[Ward]:
    with open_ward(database_url) as made:
        yield made


def listed(reader: Reader, unit: str) -> dict[str, set[str]]:
    """Which checks and infusions the lists name, by what is asked."""
    checks = {asked: {each.id for each in reader.checks_that(asked, unit)} for asked in OfChecks}
    infusions = {asked: {each.id for each in reader.infusions_that(asked, unit)} for asked in OfInfusions}
    return {each.name: found for each, found in [*checks.items(), *infusions.items()]}


def folded(reader: Reader, ward: Ward, unit: str) -> dict[str, set[str]]:
    """The same from the states of all that there are."""
    kept = reader.checks_of_unit(unit, limit=1000)
    checks = [load_check(reader, each, ward.now).state for each in kept]
    ids = {row["id"] for row in reader.rows("infusion", unit=unit)}
    infusions = [load_infusion(reader, each) for each in ids]
    return {
        "OPEN": {each.check.id for each in checks if each.phase not in ENDED},
        "WAITS": {each.check.id for each in checks if each.phase is Phase.OPENED},
        "ASKED_FOR_HELP": {each.check.id for each in checks if each.open_help is not None},
        "RUNS": {each.infusion for each in infusions if each.is_running},
        "STOPPED": {each.infusion for each in infusions if each.is_stopped},
        "UNCHECKED": {each.infusion for each in infusions if each.is_unchecked},
        "ENDED": {each.infusion for each in infusions if each.ended_at is not None},
    }


def assert_same(ward: Ward) -> dict[str, set[str]]:
    with ward.site.store.read() as reader:
        asked = listed(reader, WARD)
        assert asked == folded(reader, ward, WARD)
        assert not any(listed(reader, RECOVERY).values())
    return asked


def every_course(ward: Ward) -> Iterator[None]:
    """One thing after another that changes what a list says; each is looked at."""
    for phase in WAYS:
        ward.at_stage(phase)
        yield
        # In every phase a stop may be written down, and the end.
        ward.stops(RUTH, why='he wrote "why":"end-of-therapy"' if phase is Phase.STARTED else "line-or-site")
        yield
    ward.at_stage(Phase.STARTED).stops().stops(why="end-of-therapy")
    yield
    ward.at_stage(Phase.ESCALATED).takes_help(RUTH)
    yield
    ward.settles_help("read-again")
    yield
    ward.asks_for_help(TOMAS).abandons()
    yield
    bed = ward.at_stage(Phase.STARTED).stops().state().check.bed
    ward.opens(IMOGEN, bed=bed)
    yield
    ward.abandons(IMOGEN).opens(bed=bed).joins().both_read().compares().confirms_all().both_sign()
    yield
    ward.both_look().starts()
    yield
    ward.starts_without_check(bed="elsewhere")
    yield
    ward.opens(bed="elsewhere").stops()
    yield
    ward.joins().both_read().compares().confirms_all().signs(NADIA)
    yield
    ward.signs(TOMAS)
    yield
    ward.starts_without_check(bed="another").opens(bed="another").stops(why="end-of-therapy")
    yield
    ward.wait(timedelta(days=2))
    yield


@pytest.mark.timeout(600)
def test_the_lists_ask_what_the_states_say(ward: Ward) -> None:
    ever: dict[str, set[str]] = {}
    for _ in every_course(ward):
        for name, found in assert_same(ward).items():
            ever.setdefault(name, set()).update(found)

    # Each was true of something, and of not everything.
    with ward.site.store.read() as reader:
        everything = len(reader.checks_of_unit(WARD, limit=1000))
    assert {name: len(found) > 0 for name, found in ever.items()} == dict.fromkeys(ever, True)
    assert all(len(assert_same(ward)[name]) < everything for name in ever)
