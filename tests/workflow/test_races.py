"""Two at the same instant, on both engines: nothing is lost, nothing happens twice."""

import pytest

from app.records.kept import SOURCES
from app.records.kinds import End
from app.records.state import Phase
from app.site.readings import open_reading
from app.workflow import helping, opening, reading, settling, signing, starting, stepping, stopping
from app.workflow.comparing import compare_round
from app.workflow.refusals import NotNow
from app.workflow.sweeping import sweep_once
from tests.factories.answers import answers, as_read
from tests.story.people import IMOGEN, NADIA, PETRA, RALPH, RUTH, TOMAS, WARD, Somebody
from tests.story.ward import Ward
from tests.support.together import together

ROUNDS = 5


def kinds(said: list[object]) -> list[str]:
    return sorted(type(each).__name__ for each in said)


def counted(ward: Ward, kind: str) -> int:
    with ward.site.store.read() as reader:
        return sum(each.event.kind == kind for each in reader.entries(ward.check))


def hands_in(ward: Ward, who: Somebody) -> object:
    return reading.hand_in(ward.site, ward.act(who), ward.check)


# `act` moves the ward's clock, so each act is made before its thread begins.


@pytest.mark.parametrize("turn", range(ROUNDS))
def test_two_who_hand_in_at_the_same_instant_are_compared_once(ward: Ward, turn: int) -> None:
    ward.opens(bed=str(turn + 1)).joins().drafts(NADIA, answers()).drafts(TOMAS, answers())
    acts = {who: ward.act(who) for who in (NADIA, TOMAS)}

    def hands_in_and_compares(who: Somebody) -> object:
        said = reading.hand_in(ward.site, acts[who], ward.check)
        # As the request of whoever was second does; the other's may believe that it was not.
        if isinstance(said, reading.HandedIn) and said.both:
            compare_round(ward.site, ward.check, acts[who].now)
        return said

    said = together(lambda: hands_in_and_compares(NADIA), lambda: hands_in_and_compares(TOMAS))
    assert kinds(said) == ["HandedIn", "HandedIn"]
    assert sorted(each.both for each in said if isinstance(each, reading.HandedIn)) == [False, True]
    sweep_once(ward.site, ward.wait().now, holder="sweeper")

    assert ward.phase is Phase.STEPS
    assert (counted(ward, "handed-in"), counted(ward, "compared")) == (2, 1)
    with ward.site.store.read() as reader:
        assert len(reader.comparisons(ward.check)) == 1


def test_however_many_compare_there_is_one_comparison(ward: Ward) -> None:
    ward.at_stage(Phase.BOTH_HANDED_IN)
    now = ward.wait().now

    made = together(*(lambda: compare_round(ward.site, ward.check, now) for _ in range(6)))

    assert sorted(map(bool, made)) == [False] * 5 + [True]
    assert counted(ward, "compared") == 1


def test_a_double_click_hands_in_once(ward: Ward) -> None:
    ward.at_stage(Phase.READING).drafts(NADIA, answers())
    act = ward.act(NADIA)

    said = together(*(lambda: reading.hand_in(ward.site, act, ward.check) for _ in range(4)))

    assert kinds(said) == ["AlreadyHandedIn"] * 3 + ["HandedIn"]
    assert counted(ward, "handed-in") == 1


def test_a_draft_saved_while_it_is_handed_in_is_in_it_or_refused(ward: Ward) -> None:
    from app.records.sources import Source

    ward.at_stage(Phase.READING).drafts(NADIA, answers())
    act = ward.act(NADIA)
    page = reading.Page(version=7)

    def saves() -> object:
        given = {"capnography": "off"}
        return reading.save_draft(
            ward.site, act, ward.check, source=Source.MONITOR, read=as_read(given), page=page
        )

    saved, handed_in = together(saves, lambda: reading.hand_in(ward.site, act, ward.check))
    assert isinstance(handed_in, reading.HandedIn)
    with ward.site.store.read() as reader:
        kept = reader.find_reading(ward.check, SOURCES, 1, 1)
        assert reader.drafts(ward.check, 1, NADIA.id) == {}
    assert kept is not None

    wanted = "off" if isinstance(saved, reading.Saved) else "on"
    assert open_reading(ward.site, kept)["monitor"]["capnography"] == wanted


def test_two_who_sign_at_the_same_instant_clear_once(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)
    digest = ward.state().frozen_digest
    acts = {who: ward.act(who) for who in (NADIA, TOMAS)}

    def signs(who: Somebody) -> object:
        return signing.sign_record(
            ward.site, acts[who], ward.check, login=who.login, secret=who.secret, digest=digest
        )

    said = together(lambda: signs(NADIA), lambda: signs(TOMAS), lambda: signs(NADIA), lambda: signs(TOMAS))

    assert kinds(said) == ["AlreadySigned"] * 2 + ["Signed"] * 2
    assert {each.end for each in said if isinstance(each, signing.Signed)} == {None, End.CLEARED}
    assert ward.phase is Phase.CLEARED


def test_two_who_open_at_one_bed_at_the_same_instant_open_one_check(ward: Ward) -> None:
    acts = [ward.act(who) for who in (NADIA, TOMAS, IMOGEN)]

    said = together(*(lambda act=act: opening.open_check(ward.site, act, unit=WARD, bed="9") for act in acts))

    assert kinds(said) == ["AlreadyOpen", "AlreadyOpen", "Opened"]


def test_two_who_take_the_last_slot_at_the_same_instant_are_not_both_in(ward: Ward) -> None:
    ward.opens(NADIA)
    acts = [ward.act(who) for who in (TOMAS, IMOGEN)]

    said = together(
        lambda: opening.join_check(ward.site, acts[0], ward.check),
        lambda: opening.join_check(ward.site, acts[1], ward.check),
    )

    assert kinds(said) == ["Full", "Joined"]
    assert counted(ward, "joined") == 2


def test_two_who_take_a_request_at_the_same_instant_are_not_both_helping(ward: Ward) -> None:
    ward.at_stage(Phase.ESCALATED)
    acts = {who: ward.act(who) for who in (RUTH, PETRA)}

    said = together(
        *(
            lambda who=who: helping.take_help(ward.site, acts[who], who.roles, ward.check)
            for who in (RUTH, PETRA)
        )
    )

    assert kinds(said) == ["Done", "TakenAlready"]
    with ward.site.store.read() as reader:
        assert len(reader.help_takers(ward.check)) == 1


def test_two_who_take_a_request_over_at_the_same_instant_are_not_both_helping(ward: Ward) -> None:
    ward.at_stage(Phase.ESCALATED).takes_help(RUTH)
    ward.signs_in(RALPH, unit=WARD)
    acts = {who: ward.act(who) for who in (PETRA, RALPH)}

    said = together(
        *(
            lambda who=who: helping.take_help(ward.site, acts[who], who.roles, ward.check, over=RUTH.id)
            for who in (PETRA, RALPH)
        )
    )

    assert kinds(said) == ["Done", "TakenAlready"]
    assert counted(ward, "help-taken") == 1 + 1


def test_two_who_have_it_read_again_at_the_same_instant_open_one_reading(ward: Ward) -> None:
    ward.at_stage(Phase.DISPUTED)
    acts = [ward.act(who) for who in (NADIA, TOMAS)]

    said = together(
        lambda: settling.read_again(ward.site, acts[0], ward.check, touched=(), why=""),
        lambda: settling.read_again(ward.site, acts[1], ward.check, touched=("label",), why=""),
    )

    assert kinds(said) == ["NextReading", "NotNow"]
    assert len(ward.state().rounds) == 2


def test_the_last_steps_confirmed_at_the_same_instant_freeze_one_record(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS).confirms_group().confirms_group()
    ward.does(NADIA, "clamp-opened", "button-understood", "only-the-patient", "key-secured")
    acts = [ward.act(TOMAS) for _ in range(3)]
    given = stepping.Given(verified=("clamp-opened", "button-understood", "only-the-patient", "key-secured"))

    said = together(*(lambda act=act: stepping.take_steps(ward.site, act, ward.check, given) for act in acts))

    assert kinds(said) == ["NotNow", "NotNow", "Taken"]
    assert counted(ward, "record-frozen") == 1


def test_primed_volumes_read_at_the_same_instant_are_compared_once(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)
    acts = {who: ward.act(who) for who in (NADIA, TOMAS)}

    given = stepping.Given(primed=stepping.PrimedVolume(volume="2.3 mL", round=1))

    said = together(
        *(
            lambda who=who: stepping.take_steps(ward.site, acts[who], ward.check, given)
            for who in (NADIA, TOMAS)
        )
    )

    assert kinds(said) == ["Taken", "Taken"]
    assert ward.state().priming_settled
    assert counted(ward, "compared") == 2, "the readings, and the volumes"


def test_a_start_and_a_last_look_that_differs_do_not_both_hold(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED).looks(NADIA).looks(TOMAS)
    acts = {who: ward.act(who) for who in (NADIA, TOMAS)}

    started, looked = together(
        lambda: starting.start_infusion(ward.site, acts[NADIA], ward.check),
        lambda: starting.take_last_look(ward.site, acts[TOMAS], ward.check, same=False),
    )

    assert isinstance(started, starting.StartNoted) is not isinstance(looked, starting.NotTheSame)
    assert ward.phase is (Phase.STARTED if isinstance(started, starting.StartNoted) else Phase.LAPSED)


def test_one_gives_up_while_the_other_signs(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING).signs(NADIA)
    digest = ward.state().frozen_digest
    acts = {who: ward.act(who) for who in (NADIA, TOMAS)}

    signed, abandoned = together(
        lambda: signing.sign_record(
            ward.site, acts[TOMAS], ward.check, login=TOMAS.login, secret=TOMAS.secret, digest=digest
        ),
        lambda: settling.abandon(ward.site, acts[NADIA], ward.check, reason="time", text=""),
    )

    assert isinstance(signed, signing.Signed) is not isinstance(abandoned, settling.Done)
    assert ward.phase is (Phase.CLEARED if isinstance(signed, signing.Signed) else Phase.ABANDONED)


@pytest.mark.parametrize("turn", range(ROUNDS))
def test_a_stop_at_the_instant_of_the_second_signature_leaves_nothing_cleared(ward: Ward, turn: int) -> None:
    ward.opens(bed=str(turn + 1)).joins().both_read().compares().confirms_all().signs(TOMAS)
    acts = {who: ward.act(who) for who in (NADIA, RUTH)}
    digest = ward.state().frozen_digest

    def signs() -> object:
        return signing.sign_record(
            ward.site, acts[NADIA], ward.check, login=NADIA.login, secret=NADIA.secret, digest=digest
        )

    def stops() -> object:
        return stopping.note_stop(ward.site, acts[RUTH], RUTH.roles, ward.check, stop=stopping.Stop())

    signed, stopped = together(signs, stops)

    assert isinstance(stopped, stopping.StopNoted)
    # Whichever was first: the signature is refused, or it counts no longer.
    assert isinstance(signed, signing.Signed | NotNow)
    assert (ward.phase, ward.state().signatures) == (Phase.STEPS, {})


@pytest.mark.parametrize("turn", range(ROUNDS))
def test_a_stop_at_the_instant_of_a_start_stops_it_or_there_is_no_start(ward: Ward, turn: int) -> None:
    ward.opens(bed=str(turn + 1)).joins().both_read().compares().confirms_all().both_sign().both_look()
    acts = {who: ward.act(who) for who in (NADIA, RUTH)}

    started, stopped = together(
        lambda: starting.start_infusion(ward.site, acts[NADIA], ward.check),
        lambda: stopping.note_stop(ward.site, acts[RUTH], RUTH.roles, ward.check, stop=stopping.Stop()),
    )

    assert isinstance(stopped, stopping.StopNoted)
    if isinstance(started, NotNow):
        assert ward.phase is Phase.STEPS
    else:
        assert ward.phase is Phase.STARTED
        assert not ward.loaded().infusion.is_running
