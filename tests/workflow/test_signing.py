"""Sign, clear, look a last time, start; and what ends a clearance."""

from collections.abc import Callable
from datetime import timedelta

import pytest

from app.records.kinds import SET_UP, End
from app.records.life import Action
from app.records.state import Phase
from app.workflow import settling, signing, signing_in, starting, stopping
from app.workflow.confirming import NotConfirmed, Part, Unconfirmed, lock_part, part_with
from app.workflow.loading import Own
from app.workflow.own_signature import OtherRecord
from app.workflow.refusals import (
    Incomplete,
    NoSuchBed,
    NoSuchUnit,
    NotAllowed,
    NotFound,
    NotNow,
    NotYours,
    TooManyTries,
    WrongCredential,
)
from tests.story.key_acts import NEW_SECRET, confirms, key_of, reset, sets_secret
from tests.story.people import IMOGEN, NADIA, QUILL, RUTH, TOMAS, WARD, Somebody
from tests.story.script import WAYS
from tests.story.ward import Ward

A_QUARTER = timedelta(minutes=15)
A_SECOND = timedelta(seconds=1)


def signs(
    ward: Ward, who: Somebody, *, secret: str = "", digest: str = "", at_screen_of: Somebody | None = None
) -> object:
    return signing.sign_record(
        ward.site,
        ward.act(at_screen_of or who),
        ward.check,
        login=who.login,
        secret=secret or who.secret,
        digest=digest or ward.state().frozen_digest,
    )


# ---------------------------------------------------------------------------------------------------------
# Signing


def test_both_signatures_together_clear(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)

    assert signs(ward, NADIA) == signing.Signed()
    assert ward.state().phase is Phase.SIGNING
    assert signs(ward, TOMAS) == signing.Signed(end=End.CLEARED)
    assert ward.state().phase is Phase.CLEARED


def test_each_signs_once(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING).signs(NADIA)

    assert signs(ward, NADIA) == signing.AlreadySigned()
    ward.signs(TOMAS)
    assert signs(ward, TOMAS) == signing.AlreadySigned()
    with ward.site.store.read() as reader:
        assert [(each.slot, each.person) for each in reader.signatures(ward.check)] == [
            (1, NADIA.id),
            (2, TOMAS.id),
        ]


def test_a_signature_needs_id_and_secret_every_time(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)

    assert signs(ward, NADIA, secret="a secret of somebody else") == WrongCredential()
    assert signs(ward, NADIA, secret=TOMAS.secret) == WrongCredential()
    assert dict(ward.state().signatures) == {}


def test_wrong_secrets_at_signing_are_throttled_and_noted(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)
    for _ in range(4):
        assert signs(ward, NADIA, secret="a secret of somebody else") == WrongCredential()

    # Even the right one waits: a delay, never a lock.
    assert isinstance(signs(ward, NADIA), TooManyTries)
    ward.wait(timedelta(minutes=1))
    assert signs(ward, NADIA) == signing.Signed()
    with ward.site.store.read() as reader:
        noted = [
            each.event
            for each in reader.log_entries(after=0, limit=1000)
            if each.event.kind == "security-noted"
        ]
    assert [getattr(each, "what", "") for each in noted] == ["signing failed"] * 4


def fails_often(ward: Ward, guess: Callable[[], object]) -> None:
    """Guess wrong until the account waits for minutes."""
    tried = guess()
    while not (isinstance(tried, TooManyTries) and tried.seconds > A_QUARTER.total_seconds()):
        if isinstance(tried, TooManyTries):
            ward.wait(timedelta(seconds=tried.seconds))
        tried = guess()


@pytest.mark.parametrize("screen", [TOMAS, NADIA])
def test_what_anybody_fails_at_the_sign_in_page_keeps_nobody_from_signing(
    one_ward: Ward, screen: Somebody
) -> None:
    one_ward.at_stage(Phase.SIGNING)
    fails_often(
        one_ward,
        lambda: signing_in.sign_in(
            one_ward.site, one_ward.now, login=TOMAS.login, secret="a guess", device="far away", unit=WARD
        ),
    )

    assert signs(one_ward, TOMAS, at_screen_of=screen) == signing.Signed()


def test_what_a_colleague_fails_in_ones_name_keeps_nobody_from_signing_on_the_own_screen(
    one_ward: Ward,
) -> None:
    one_ward.at_stage(Phase.SIGNING)
    fails_often(one_ward, lambda: signs(one_ward, NADIA, secret="a guess", at_screen_of=TOMAS))

    assert isinstance(signs(one_ward, NADIA, at_screen_of=TOMAS), TooManyTries)
    assert signs(one_ward, NADIA) == signing.Signed()


def test_only_the_two_sign(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)

    assert signs(ward, IMOGEN) == NotYours()
    assert signs(ward, RUTH) == NotYours()
    ward.check = "no-such-check"
    assert signs(ward, NADIA, digest="any") == NotFound()


def test_what_is_signed_is_what_was_shown(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)
    shown = ward.state().frozen_digest
    ward.reads_again(NADIA, "device").both_read().compares().confirms_all()

    assert signs(ward, NADIA, digest=shown) == OtherRecord()
    assert signs(ward, NADIA) == signing.Signed()


def test_nothing_is_signed_while_help_is_asked_for(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING).signs(NADIA).asks_for_help(TOMAS)

    assert signs(ward, TOMAS) == signing.StillOpen()
    ward.takes_help().settles_help("other")
    assert signs(ward, TOMAS) == signing.Signed(end=End.CLEARED)


@pytest.mark.parametrize(
    "phase",
    [Phase.READING, Phase.DISPUTED, Phase.AGREED, Phase.STEPS, Phase.ABANDONED],
)
def test_nothing_is_signed_before_the_last_step_or_after_the_end(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)

    assert signs(one_ward, NADIA, digest="any") == NotNow(phase=phase)


def test_a_record_names_its_signers_in_print_and_where_they_sat(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)
    assert signs(ward, NADIA) == signing.Signed()
    assert signs(ward, TOMAS, at_screen_of=NADIA) == signing.Signed(end=End.CLEARED)
    with ward.site.store.read() as reader:
        first, second = reader.signatures(ward.check)

    assert (first.printed_name, second.printed_name) == (NADIA.printed_name, TOMAS.printed_name)
    assert first.meaning == second.meaning == SET_UP.meaning
    # Tomas gave his own credential on the screen at which Nadia is signed in: said, and told apart.
    assert second.device == first.device
    assert first.session != second.session
    assert second.session.startswith(first.session)
    assert second.signed_in_at == second.signed_at


def test_someone_whose_account_was_closed_cannot_sign(one_ward: Ward) -> None:
    from app.workflow.accounts import set_active

    one_ward.at_stage(Phase.SIGNING)
    set_active(one_ward.site, one_ward.now, by="adele", person=NADIA.id, active=False)

    assert signs(one_ward, NADIA) == WrongCredential()
    # The check is not stuck: the other gives it up.
    assert one_ward.abandons(TOMAS).phase is Phase.ABANDONED


# ---------------------------------------------------------------------------------------------------------
# On one screen


def other(ward: Ward, who: Somebody, slot: int | None, *credential: str) -> object:
    login, secret = credential or ("", "")
    part = part_with(ward.site, ward.act(who), slot=slot, login=login, secret=secret)
    if not isinstance(part, Part):
        return part
    with ward.site.store.write() as tx:
        return lock_part(tx, ward.act(who), ward.check, Action.CONFIRM_STEPS, part=part)


def test_from_agreed_on_both_confirm_on_one_screen_each_with_a_credential(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)
    own, others = other(ward, NADIA, 1), other(ward, NADIA, 2, TOMAS.login, TOMAS.secret)
    assert isinstance(own, Own)
    assert isinstance(others, Own)

    assert (own.slot, own.act.by.person) == (1, NADIA.id)
    assert (others.slot, others.act.by.person) == (2, TOMAS.id)
    assert isinstance(other(ward, NADIA, None), Own)
    assert other(ward, NADIA, 2, TOMAS.login, "a secret of somebody else") == WrongCredential()
    assert other(ward, NADIA, 2) == NotConfirmed(Unconfirmed.NO_CREDENTIAL)
    assert other(ward, NADIA, 2, NADIA.login, NADIA.secret) == NotConfirmed(Unconfirmed.OTHER_PERSON)
    assert other(ward, NADIA, 2, IMOGEN.login, IMOGEN.secret) == NotConfirmed(Unconfirmed.OTHER_PERSON)
    assert other(ward, IMOGEN, 1) == NotYours()
    # Nor does one of the two lend a third person's screen the own hand.
    assert other(ward, IMOGEN, 1, NADIA.login, NADIA.secret) == NotYours()
    assert other(ward, NADIA, 3) == NotYours()


def test_whoever_was_reset_confirms_nothing_on_another_s_screen_before_a_colleague_has_seen_them(
    ward: Ward,
) -> None:
    ward.at_stage(Phase.STEPS)
    sets_secret(ward, TOMAS, reset(ward, TOMAS))
    assert other(ward, NADIA, 2, TOMAS.login, NEW_SECRET) == NotConfirmed(Unconfirmed.NOT_SEEN)
    confirms(ward, key_of(ward, TOMAS).kid, RUTH)
    assert isinstance(other(ward, NADIA, 2, TOMAS.login, NEW_SECRET), Own)


def test_while_blind_nobody_confirms_for_another(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.READING)

    asked = other(one_ward, NADIA, 2, TOMAS.login, TOMAS.secret)

    assert asked == NotConfirmed(Unconfirmed.EACH_ALONE)


def test_a_right_credential_forgets_the_failures_before_it_whatever_comes_of_the_act(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)
    for _ in range(3):
        assert other(one_ward, NADIA, 2, TOMAS.login, "a secret of somebody else") == WrongCredential()

    other(one_ward, NADIA, 3, TOMAS.login, TOMAS.secret)

    for _ in range(4):
        assert other(one_ward, NADIA, 2, TOMAS.login, "a secret of somebody else") == WrongCredential()
    assert isinstance(other(one_ward, NADIA, 2, TOMAS.login, TOMAS.secret), TooManyTries)


# ---------------------------------------------------------------------------------------------------------
# Cleared: last look, start, lapse


def looks(ward: Ward, who: Somebody, *, same: bool = True) -> object:
    return starting.take_last_look(ward.site, ward.act(who), ward.check, same=same)


def starts(ward: Ward, who: Somebody = NADIA) -> object:
    return starting.start_infusion(ward.site, ward.act(who), ward.check)


def test_the_infusion_is_started_after_both_last_looks(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED)

    assert starts(ward) == Incomplete(fields=("last-look",))
    assert looks(ward, NADIA) == starting.Looked(both=False)
    assert looks(ward, NADIA) == starting.Looked(both=False)
    assert starts(ward) == Incomplete(fields=("last-look",))
    assert looks(ward, TOMAS) == starting.Looked(both=True)
    assert starts(ward) == starting.StartNoted()
    assert starts(ward) == NotNow(phase=Phase.STARTED)
    assert looks(ward, NADIA) == NotNow(phase=Phase.STARTED)


def test_only_the_two_look_and_start(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.CLEARED)

    assert looks(one_ward, IMOGEN) == NotYours()
    assert starts(one_ward, IMOGEN) == NotYours()
    one_ward.check = "no-such-check"
    assert looks(one_ward, NADIA) == NotFound()
    assert starts(one_ward) == NotFound()


def test_clearance_lapses_with_the_sites_time(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED).looks(NADIA).looks(TOMAS)
    cleared_at = ward.state().cleared_at
    assert cleared_at is not None
    ward.now = cleared_at + A_QUARTER
    assert ward.state().phase is Phase.CLEARED
    ward.wait(A_SECOND)

    assert starts(ward) == NotNow(phase=Phase.LAPSED)
    assert looks(ward, NADIA) == NotNow(phase=Phase.LAPSED)


def test_after_a_lapse_the_device_is_read_again_signed_again_and_started(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED).wait(A_QUARTER + A_SECOND)
    assert ward.state().phase is Phase.LAPSED
    ward.reads_again(NADIA, "device").both_read().compares().confirms_all()

    assert (ward.state().phase, ward.state().edition) == (Phase.SIGNING, 2)
    ward.both_sign().looks(NADIA).looks(TOMAS).starts()
    assert ward.state().phase is Phase.STARTED
    with ward.site.store.read() as reader:
        assert [(each.edition, each.slot) for each in reader.signatures(ward.check)] == [
            (1, 1),
            (1, 2),
            (2, 1),
            (2, 2),
        ]


def test_a_last_look_that_differs_ends_the_clearance(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED).looks(NADIA)

    assert looks(ward, TOMAS, same=False) == starting.NotTheSame()
    assert (ward.state().phase, ward.state().lapse) == (Phase.LAPSED, "last-look-differs")
    assert starts(ward) == NotNow(phase=Phase.LAPSED)
    ward.reads_again(TOMAS, "device").both_read().compares().confirms_all().both_sign()
    # The looks before the lapse do not count.
    assert starts(ward) == Incomplete(fields=("last-look",))
    assert ward.looks(NADIA).looks(TOMAS).starts().phase is Phase.STARTED


def test_a_clearance_that_someone_takes_back_by_touching_the_device(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.CLEARED).reads_again(NADIA, "device")

    assert one_ward.phase is Phase.READING
    assert starts(one_ward) == NotNow(phase=Phase.READING)


# ---------------------------------------------------------------------------------------------------------
# The patient first


@pytest.mark.parametrize("phase", WAYS, ids=lambda phase: phase.value)
def test_a_stop_is_noted_in_every_phase_and_nothing_is_mandatory(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)
    said = stopping.note_stop(
        one_ward.site, one_ward.act(IMOGEN), IMOGEN.roles, one_ward.check, stop=stopping.Stop()
    )

    assert isinstance(said, stopping.StopNoted)
    assert [each.at for each in one_ward.state().stop_notes] == [one_ward.now]
    # What both signed of a set-up holds no longer, as nobody said that it was stopped for anything else.
    void = {Phase.SIGNING, Phase.CLEARED, Phase.LAPSED} if one_ward.state().kind.plans else set()
    assert one_ward.phase is (Phase.STEPS if phase in void else phase)


def test_a_stop_is_noted_by_whoever_works_on_a_unit(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED)

    def notes(who: Somebody, check: str) -> object:
        stop = stopping.Stop(why="line-or-site")
        return stopping.note_stop(one_ward.site, one_ward.act(who), who.roles, check, stop=stop)

    assert notes(QUILL, one_ward.check) == NotAllowed()
    assert notes(RUTH, "no-such-check") == NotFound()


def test_an_infusion_that_had_to_start_is_never_called_cleared(ward: Ward) -> None:
    from app.workflow.listing import unit_list

    def notes(unit: str, bed: str, reason: str) -> object:
        return starting.note_start_without_check(
            ward.site, ward.act(NADIA), unit=unit, bed=bed, reason=reason, started_at=""
        )

    assert notes(WARD, "3", " ") == Incomplete(fields=("reason",))
    assert notes("ward-9", "3", "no second nurse") == NoSuchUnit()
    for unknown in (" ", "99"):
        assert isinstance(notes(WARD, unknown, "no second nurse"), NoSuchBed)
    assert notes(WARD, "3", "no second nurse") == starting.StartNoted()
    (running,) = unit_list(ward.site, ward.act(RUTH)).unchecked
    assert (running.bed, running.reason) == ("3", "no second nurse")


def test_help_cannot_be_asked_for_after_clearance(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.CLEARED)

    assert settling.ask_for_help(
        one_ward.site, one_ward.act(NADIA), one_ward.check, why="", text=""
    ) == NotNow(phase=Phase.CLEARED)
