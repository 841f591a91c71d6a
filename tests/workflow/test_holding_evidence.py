"""Whoever holds kept evidence confirms it, by the number on its seal: another one than whoever keeps it."""

from typing import Any

import pytest

from app.auditing.recounting import differing_accounts
from app.records.emergency_events import EvidenceReceived, SealDiffered
from app.records.kinds import HANDOFF_STANDING
from app.records.state import Phase
from app.site.loading import account_of
from app.workflow import emergencies, holding_evidence, opening, transferring
from app.workflow.emergencies_seen import see_emergency
from app.workflow.infusion_told import WholeInfusion, see_whole_infusion
from app.workflow.refusals import NotAllowed, NotFound, ReadsBlind
from tests.story.people import (
    ADELE,
    IMOGEN,
    INES,
    NADIA,
    PETRA,
    QUILL,
    RALPH,
    RECOVERY,
    RUTH,
    TOMAS,
    WARD,
    Somebody,
)
from tests.story.ward import Ward
from tests.workflow.test_emergencies import ONE_TAP, does, infusion_of, lists, seen, state_of, told

SEALED = emergencies.Sealed(seal="LK 7701", holder="Petra", place="safe 2", read={"left": "26 mL"})


@pytest.fixture
def kept(ward: Ward) -> Ward:
    return keeps(ward.at_stage(Phase.STARTED))


@pytest.fixture
def running(one_ward: Ward) -> Ward:
    return one_ward.at_stage(Phase.STARTED)


def keeps(ward: Ward, sealed: emergencies.Sealed = SEALED, who: Somebody = RUTH) -> Ward:
    ONE_TAP["overdose"](ward, NADIA)
    assert isinstance(does(ward, emergencies.keep_evidence, who, sealed=sealed), emergencies.Noted)
    return ward


def confirms(ward: Ward, who: Somebody, seal: str = "lk-7701") -> Any:  # noqa: ANN401  # what came of it
    return does(ward, holding_evidence.confirm_evidence, who, seal=seal)


def received(ward: Ward) -> bool:
    infusion = infusion_of(ward)
    with ward.site.store.read() as reader:
        kept = account_of(reader, infusion).entries[-1].data
        assert list(differing_accounts(reader, ward.now)) == []
    assert kept["kind"] == "kept"
    return bool(kept["received"])


def test_it_is_received_once_its_holder_says_so_and_each_who_takes_it_over_says_so_too(kept: Ward) -> None:
    assert not received(kept)
    written = does(kept, holding_evidence.see_evidence, PETRA)
    assert isinstance(written, holding_evidence.EvidenceSeen)
    assert (written.holder, written.place) == ("Petra", "safe 2")
    assert "7701" not in repr(written)
    # That is a look: what people wrote in their own words may hold a value.
    infusion = infusion_of(kept)
    with kept.site.store.read() as reader:
        looks = reader.accesses_of_infusion(infusion)
        assert [each.what for each in looks if each.person == PETRA.id] == ["evidence"]
    assert isinstance(confirms(kept, PETRA), emergencies.Noted)
    assert told(kept)[-1].event == EvidenceReceived(harm=seen_harm(kept), seal="lk-7701")
    assert told(kept)[-1].by == PETRA.id
    assert received(kept)
    for who in (TOMAS, QUILL, PETRA):
        assert isinstance(confirms(kept, who), emergencies.Noted)
        assert state_of(kept).emergencies.custody.holder == who.id
    holders = [each.by for each in told(kept) if isinstance(each.event, EvidenceReceived)]
    assert holders == [PETRA.id, TOMAS.id, QUILL.id, PETRA.id]


def seen_harm(ward: Ward) -> str:
    evidence = state_of(ward).emergencies.evidence
    assert evidence is not None
    return str(evidence.position)


def test_another_number_is_written_down_and_told_and_nobody_has_received_it(kept: Ward) -> None:
    assert confirms(kept, PETRA, " 7710 ") == holding_evidence.SealApart()
    assert told(kept)[-1].event == SealDiffered(harm=seen_harm(kept), seal="7710")
    assert not received(kept)
    assert state_of(kept).emergencies.custody.differs
    assert confirms(kept, QUILL, "7701") == holding_evidence.SealApart()
    # Of one that somebody holds, they hold it still.
    assert isinstance(confirms(kept, PETRA), emergencies.Noted)
    assert confirms(kept, TOMAS, "7710") == holding_evidence.SealApart()
    stands = state_of(kept).emergencies.custody
    assert (stands.differs, stands.holder, received(kept)) == (True, PETRA.id, True)
    # Its holder looks once more: that settles it, and is written down.
    before = len(told(kept))
    assert isinstance(confirms(kept, PETRA), emergencies.Noted)
    assert (len(told(kept)), state_of(kept).emergencies.custody.differs) == (before + 1, False)


def test_confirmed_twice_it_stands_once(running: Ward) -> None:
    keeps(running)
    confirms(running, PETRA)
    before = told(running)
    assert isinstance(confirms(running, PETRA, "LK7701"), emergencies.Noted)
    assert told(running) == before
    # But a holder who finds another seal says so.
    assert confirms(running, PETRA, "8") == holding_evidence.SealApart()


def test_whoever_wrote_of_it_confirms_nothing(running: Ward) -> None:
    keeps(running)
    does(running, emergencies.keep_evidence, TOMAS, sealed=emergencies.Sealed(place="safe 3"))
    for who in (RUTH, TOMAS):
        assert confirms(running, who) == holding_evidence.WroteIt()
        assert not seen(running, who).may_hold
    assert seen(running, IMOGEN).may_hold
    assert isinstance(confirms(running, NADIA), emergencies.Noted)


def test_without_a_number_there_is_nothing_to_confirm(running: Ward) -> None:
    assert confirms(running, PETRA) == emergencies.NothingStands()
    keeps(running, emergencies.Sealed(holder="Petra", place="safe 2"))
    assert confirms(running, PETRA) == holding_evidence.NoSeal()
    assert not seen(running, IMOGEN).may_hold
    does(running, emergencies.keep_evidence, RUTH, sealed=SEALED)
    assert isinstance(confirms(running, PETRA), emergencies.Noted)


def test_it_is_confirmed_where_its_page_is_shown_and_by_no_other_role(running: Ward) -> None:
    keeps(running)
    for ask in (confirms, lambda ward, who: does(ward, holding_evidence.see_evidence, who)):
        assert {ask(running, who) for who in (INES, RALPH)} == {NotFound()}
        assert ask(running, ADELE) == NotAllowed()
    act = running.act(PETRA)
    assert holding_evidence.confirm_evidence(running.site, act, "none", seal="7701") == NotFound()
    assert told(running)[-1].event.kind == "evidence-kept"


def test_of_a_patient_who_was_taken_to_another_unit_it_is_confirmed_there(running: Ward) -> None:
    keeps(running)
    said = transferring.take_patient(
        running.site, running.act(INES), before=(WARD, running.state().check.bed), unit=RECOVERY, bed="3"
    )
    assert isinstance(said, transferring.Taken)
    assert confirms(running, TOMAS) == NotFound()
    assert isinstance(confirms(running, INES), emergencies.Noted)


def test_what_is_free_or_was_of_another_bed_is_confirmed_by_nobody(running: Ward) -> None:
    noted = ONE_TAP["overdose"](running, NADIA)
    assert isinstance(noted, emergencies.Noted)
    does(running, emergencies.keep_evidence, RUTH, sealed=SEALED)
    confirms(running, PETRA)
    does(running, emergencies.release_evidence, QUILL)
    assert confirms(running, PETRA) == emergencies.NothingStands()
    # The next is another's, until that turns out to be of another bed.
    noted = ONE_TAP["death"](running, NADIA)
    assert isinstance(noted, emergencies.Noted)
    assert confirms(running, PETRA) == holding_evidence.NoSeal()
    does(running, emergencies.keep_evidence, RUTH, sealed=SEALED)
    running.saying_misplaced(NADIA, noted.note)
    assert confirms(running, PETRA) == emergencies.NothingStands()


def test_its_holder_hands_it_on_before_it_is_given_free_by_them(running: Ward) -> None:
    keeps(running)
    confirms(running, QUILL)
    assert does(running, emergencies.release_evidence, QUILL) == emergencies.HoldsIt()
    assert state_of(running).emergencies.evidence is not None
    confirms(running, PETRA)
    assert isinstance(does(running, emergencies.release_evidence, QUILL), emergencies.Noted)


def test_the_number_is_shown_to_whoever_wrote_it_or_has_read_it_on_the_seal(running: Ward) -> None:
    keeps(running)
    confirms(running, PETRA)
    confirms(running, TOMAS, "7710")
    harm = int(seen_harm(running))

    def shown(who: Somebody) -> set[str]:
        page = see_whole_infusion(running.site, running.act(who), infusion_of(running))
        assert isinstance(page, WholeInfusion)
        assert page.told is not None
        one = see_emergency(running.site, running.act(who), infusion_of(running), harm)
        said = repr((page.told.told, seen(running, who), one))
        # What the account was made of names each seal, and no page shows it.
        said = said.replace("'seal': 'LK 7701'", "")
        return {each for each in ("7701", "7710") if each in said}

    both = {"7701", "7710"}
    assert [shown(who) for who in (RUTH, PETRA, QUILL)] == [both] * 3
    assert [shown(who) for who in (IMOGEN, TOMAS, NADIA)] == [set()] * 3
    confirms(running, TOMAS)
    assert [shown(who) for who in (TOMAS, QUILL)] == [both, set()]
    does(running, emergencies.release_evidence, QUILL)
    assert shown(IMOGEN) == both


def test_to_whoever_reads_blind_there_nothing_of_it_is_shown_or_asked(running: Ward) -> None:
    keeps(running)
    opened = running.opening_on(NADIA, HANDOFF_STANDING)
    assert isinstance(opened, opening.Opened)
    running.check = opened.check
    running.joins(IMOGEN)
    for ask in (confirms, lambda ward, who: does(ward, holding_evidence.see_evidence, who)):
        assert {ask(running, who) for who in (NADIA, IMOGEN)} == {ReadsBlind()}
    assert not seen(running, IMOGEN).may_hold
    assert isinstance(confirms(running, PETRA), emergencies.Noted)
    assert "7701" not in repr(seen(running, IMOGEN))


def test_it_is_to_be_done_on_the_list_until_it_is_confirmed_whatever_became_of_the_infusion(
    running: Ward,
) -> None:
    keeps(running)
    running.stops(RUTH, why="end-of-therapy")
    for who in (RUTH, QUILL, PETRA):
        (line,) = lists(running, who).told
        assert not line.left.stands.custody.is_received
    confirms(running, PETRA)
    (line,) = lists(running).told
    assert line.left.stands.custody.is_received
