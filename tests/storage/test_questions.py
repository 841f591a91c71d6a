"""What a list asks in SQL is what the states say: of every check and every infusion, on each engine."""

from collections.abc import Iterator
from datetime import timedelta

import pytest

from app.records.issued import issued_in, out_of
from app.records.state import Phase
from app.workflow import emergencies as hurry
from app.workflow import misplaced_starts, stopping
from app.workflow.closing_accounts import Closed
from app.workflow.issuing_syringes import Given, Noted, give_to_nobody, note_issued
from app.workflow.transferring import Taken, take_patient
from tests.factories.answers import SHORT, answers
from tests.story.people import IMOGEN, INES, NADIA, RECOVERY, RUTH, TOMAS, WARD
from tests.story.script import WAYS
from tests.story.ward import Ward, open_ward
from tests.support.lists import folded, listed
from tests.workflow.test_closing_accounts import looks_and_closes


@pytest.fixture
def ward(database_url: str) -> Iterator[Ward]:
    with open_ward(database_url) as made:
        yield made


def assert_same(ward: Ward) -> dict[str, set[str]]:
    with ward.site.store.read() as reader:
        asked = listed(reader, WARD)
        assert asked == folded(reader, WARD, ward.now)
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
    # Each of the two was at another bed, the last one first.
    for note in reversed(ward.state().stop_notes):
        assert isinstance(ward.saying_misplaced(ward.first, note.note), stopping.SaidMisplaced)
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
    # What does not add up is left open, and closed.
    short = ward.at_stage(Phase.STARTED).re_checks().of_its_patient(SHORT)
    ward.both_read(short).compares().recounts().both_read(short).compares()
    yield
    ward.both_sign()
    yield
    assert looks_and_closes(ward, RUTH, ward.state().check.infusion) == Closed()
    yield
    ward.has_beds("elsewhere", "another").starts_without_check(bed="elsewhere")
    yield
    # What two sign of another infusion checks nothing of it.
    ward.at_stage(Phase.STARTED)
    yield
    yield from at_another_bed(ward)
    ward.stops_at("elsewhere")
    yield
    ward.opens(bed="elsewhere")
    yield
    ward.joins().both_read().compares().confirms_all().signs(NADIA)
    yield
    ward.signs(TOMAS)
    yield
    ward.starts_without_check(bed="another").stops_at("another", why="end-of-therapy")
    yield
    yield from emergencies(ward)
    yield from transfers(ward)
    yield from issues(ward)
    ward.wait(timedelta(days=2))
    yield


def at_another_bed(ward: Ward) -> Iterator[None]:
    """Two wrote the same start; each says that it was another bed, and one writes it anew."""
    ward.starts_without_check(TOMAS, bed="elsewhere")
    for who in (TOMAS, ward.first):
        (own,) = misplaced_starts.own_starts(ward.site, ward.act(who))
        said = misplaced_starts.say_elsewhere(ward.site, ward.act(who), own.note)
        assert said == misplaced_starts.SaidElsewhere()
        yield
    ward.starts_without_check(bed="elsewhere")
    yield


def emergencies(ward: Ward) -> Iterator[None]:
    """What is done in a hurry, and what ends what it leaves behind."""
    infusion = ward.at_stage(Phase.STARTED).state().check.infusion
    for act in (hurry.note_dead_device, hurry.note_reversal, hurry.note_itch, hurry.release_evidence):
        act(ward.site, ward.act(RUTH), infusion)
        yield
    hurry.note_away(ward.site, ward.act(RUTH), infusion, what="mri")
    yield
    hurry.note_harm(ward.site, ward.act(RUTH), infusion, what="death")
    yield
    ward.saying_misplaced(RUTH, ward.state().stop_notes[-1].note or 0)
    yield
    lost = hurry.note_key(ward.site, ward.act(RUTH), infusion, what="key")
    yield
    assert isinstance(lost, hurry.Noted)
    ward.saying_misplaced(RUTH, lost.note)
    yield
    hurry.note_key(ward.site, ward.act(RUTH), infusion, what="key")
    yield
    hurry.change_lock(ward.site, ward.act(RUTH), infusion)
    yield
    # Held, and had to start all the same: it is held still once it is stopped.
    ward.starts_without_check(bed=ward.state().check.bed)
    yield
    ward.stops()
    yield
    hurry.note_key(ward.site, ward.act(RUTH), infusion, what="code")
    hurry.note_harm(ward.site, ward.act(RUTH), infusion, what="overdose")
    yield
    ward.stops(RUTH, why="end-of-therapy")
    yield
    stopping.say_not_over(ward.site, ward.act(RUTH), ward.state().stop_notes[-1].note)
    yield
    ward.stops(RUTH, why="end-of-therapy")
    yield


def issues(ward: Ward) -> Iterator[None]:
    """Two syringes are issued for a bed, and one goes nowhere."""
    given = Given(
        source="store", giver="Ruth", receiver="Nadia", number="1", volume="30 mL", sealed="yes", another=True
    )
    bed = ward.state().check.bed
    first, second = (note_issued(ward.site, ward.act(RUTH), unit=WARD, bed=bed, given=given) for _ in "12")
    assert isinstance(first, Noted)
    assert first == second
    yield
    with ward.site.store.read() as reader:
        out = out_of(issued_in(reader.course(first.infusion)))
    for each in out:
        give_to_nobody(ward.site, ward.act(NADIA), first.infusion, each.position)
        yield


def transfers(ward: Ward) -> Iterator[None]:
    """Another unit takes a patient, who is taken back to another bed; then two check it."""
    check = ward.has_beds("back").at_stage(Phase.STARTED).state().check
    there, read = (RECOVERY, "3"), ward.of_its_patient(answers())
    taken = take_patient(ward.site, ward.act(INES), before=(WARD, check.bed), unit=RECOVERY, bed="3")
    back = take_patient(ward.site, ward.act(NADIA), before=there, unit=WARD, bed="back")
    assert taken == back == Taken(infusion=check.infusion)
    yield
    ward.re_checks().both_read(read).compares().both_sign()
    yield


@pytest.mark.timeout(600)
def test_the_lists_ask_what_the_states_say(ward: Ward) -> None:
    ever: dict[str, set[str]] = {}
    for _ in every_course(ward):
        for name, found in assert_same(ward).items():
            ever.setdefault(name, set()).update(found)

    # Each was true of something, and of not everything.
    with ward.site.store.read() as reader:
        everything = len(list(reader.rows("check", unit=WARD)))
    assert {name: len(found) > 0 for name, found in ever.items()} == dict.fromkeys(ever, True)
    assert all(len(assert_same(ward)[name]) < everything for name in ever)
