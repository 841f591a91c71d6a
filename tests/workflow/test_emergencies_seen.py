"""Who is told of what was done in a hurry, and who ends it: each where its page is shown."""

import pytest

from app.records.emergency_events import EvidenceKept
from app.records.events import SecurityNoted
from app.records.state import Phase
from app.workflow import emergencies
from app.workflow.emergencies_seen import EmergenciesSeen, see_emergency
from app.workflow.refusals import NotFound
from tests.story.people import IMOGEN, INES, NADIA, PETRA, QUILL, RALPH, RUTH, TOMAS, Somebody
from tests.story.ward import Ward
from tests.workflow.test_emergencies import ONE_TAP, SEALED, does, infusion_of, seen, state_of, told


@pytest.fixture
def running(one_ward: Ward) -> Ward:
    return one_ward.at_stage(Phase.STARTED)


def test_what_ends_it_is_of_its_unit_and_of_whoever_reads_every_units_records(running: Ward) -> None:
    for tap in ("reversal", "away", "key", "overdose"):
        ONE_TAP[tap](running, NADIA)
    before, last = state_of(running).emergencies, told(running)[-1].position
    for who in (INES, RALPH):
        asked = (
            does(running, emergencies.decide_restart, who, prescriber="Dr Hale"),
            does(running, emergencies.note_back, who, opioids="no"),
            does(running, emergencies.keep_evidence, who, sealed=SEALED),
            does(running, emergencies.tell_afterwards, who, position=last, told={"response": "wakes"}),
        )
        assert set(asked) == {NotFound()}
    assert does(running, emergencies.change_lock, RALPH) == NotFound()
    assert state_of(running).emergencies == before
    assert isinstance(does(running, emergencies.change_lock, PETRA), emergencies.Noted)
    assert isinstance(does(running, emergencies.release_evidence, QUILL), emergencies.Noted)


def test_whoever_had_a_part_gives_nothing_free(running: Ward) -> None:
    ONE_TAP["overdose"](running, IMOGEN)
    does(running, emergencies.keep_evidence, RUTH, sealed=SEALED)
    had_a_part = (NADIA, TOMAS, IMOGEN, RUTH)
    for who in (*had_a_part, RALPH):
        with running.site.store.write() as tx:
            tx.set_roles(who.id, {*who.roles, *QUILL.roles})
            tx.append(SecurityNoted(person=who.id, what="roles"), at=running.now)

    assert {does(running, emergencies.release_evidence, who) for who in had_a_part} == {
        emergencies.HadAPart()
    }
    assert state_of(running).emergencies.evidence is not None
    assert isinstance(does(running, emergencies.release_evidence, RALPH), emergencies.Noted)


def test_what_was_told_is_closed_to_whoever_reads_blind_there(running: Ward) -> None:
    noted = ONE_TAP["itch"](running, NADIA)
    assert isinstance(noted, emergencies.Noted)
    does(running, emergencies.tell_afterwards, position=noted.position, told={"response": "12 of 40 mg"})
    ONE_TAP["overdose"](running, NADIA)
    does(running, emergencies.keep_evidence, sealed=SEALED)
    does(running, emergencies.release_evidence, QUILL)
    bed = running.state().check.bed
    running.opens(IMOGEN, bed=bed).joins(TOMAS)

    for who in (IMOGEN, TOMAS):
        said = repr(seen(running, who).happened)
        assert "itch-treated" in said or "ItchTreated" in said
        assert not [words for words in ("12 of 40 mg", "36 mL", "12 mg", "7701") if words in said]
    assert "12 of 40 mg" in repr(seen(running, RUTH).happened)


def test_to_be_shown_what_is_kept_is_a_look_at_the_infusion(running: Ward) -> None:
    ONE_TAP["itch"](running, NADIA)
    itch = told(running)[-1].position
    ONE_TAP["overdose"](running, NADIA)
    harm = told(running)[-1].position

    def shown(who: Somebody, position: int) -> EvidenceKept | None:
        found = see_emergency(running.site, running.act(who), infusion_of(running), position)
        assert isinstance(found, EmergenciesSeen)
        return found.kept

    def looks() -> list[tuple[str, str]]:
        infusion = infusion_of(running)
        with running.site.store.read() as reader:
            found = [each for each in reader.accesses_of_infusion(infusion) if each.person == IMOGEN.id]
        assert {each.check for each in found} <= {running.check}
        return [(each.person, each.what) for each in found]

    assert shown(IMOGEN, harm) is None
    does(running, emergencies.keep_evidence, sealed=SEALED)
    # It does not stand on the pages of what else happened, nor for whoever writes nothing of it.
    assert [shown(IMOGEN, itch), shown(PETRA, harm), shown(IMOGEN, 1)] == [None] * 3
    assert looks() == []
    kept = shown(IMOGEN, harm)
    assert kept is not None
    assert kept.left == "26 mL"
    assert looks() == [(IMOGEN.id, "evidence")]
