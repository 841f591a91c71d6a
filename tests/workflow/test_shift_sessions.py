"""A shift session: six digits open it again at its own screen, for a shift and five tries; and never sign."""

from datetime import timedelta
from typing import Any

import pytest

from app.base import Act, Method
from app.keys import SecretFault, token_digest, verify_pin
from app.records.canonical import digest
from app.records.state import Phase
from app.storage import ConstraintBroken
from app.workflow import accounts, shift_sessions, signing, signing_in
from app.workflow.changing_secret import change_secret
from app.workflow.refusals import WrongCredential
from app.workflow.sessions import SignedIn
from app.workflow.shift_sessions import ShiftOver, WrongPin
from tests.story.people import ADELE, NADIA, TOMAS, WARD, Somebody
from tests.story.ward import Ward
from tests.support.together import together

IDLE = timedelta(minutes=5)
A_SECOND = timedelta(seconds=1)
HERE, ELSEWHERE = "tablet", "another tablet"
PINS = {NADIA.id: "739204", TOMAS.id: "582046"}
WRONG = "739205"


def signs_in(ward: Ward, who: Somebody, *, device: str = HERE, pin: str | None = None) -> SignedIn:
    signed_in = signing_in.sign_in(
        ward.site,
        ward.wait(A_SECOND).now,
        login=who.login,
        secret=who.secret,
        device=device,
        unit=WARD,
        pin=PINS[who.id] if pin is None else pin,
    )
    assert isinstance(signed_in, SignedIn), signed_in
    return signed_in


def unlocks(ward: Ward, shift: str, pin: str, *, device: str = HERE) -> SignedIn | WrongPin | ShiftOver:
    return shift_sessions.unlock(
        ward.site, ward.wait(A_SECOND).now, shift_session=shift, device=device, pin=pin
    )


def names_at(ward: Ward, device: str = HERE) -> list[str]:
    return [each.printed_name for each in shift_sessions.locked_at(ward.site, ward.now, device)]


def lives(ward: Ward, signed_in: SignedIn) -> bool:
    return signing_in.find_seen(ward.site, ward.now, token=signed_in.token, idle=IDLE) is not None


def noted(ward: Ward, who: Somebody) -> list[tuple[str, str]]:
    """What the log says of a person, with the session under which it stands."""
    with ward.site.store.read() as reader:
        entries = [each for each in reader.log_entries(after=0, limit=10_000) if each.at > ward.now - IDLE]
    return [
        (str(getattr(each.event, "what", "")), each.session)
        for each in entries
        if getattr(each.event, "person", "") == who.id
    ]


# ---------------------------------------------------------------------------------------------------------
# Opened again


def test_each_unlock_is_a_session_of_its_own_known_by_its_method(ward: Ward) -> None:
    begun = signs_in(ward, NADIA)
    shift_sessions.lock(ward.site, ward.now, begun.actor)
    assert not lives(ward, begun)
    first = unlocks(ward, begun.actor.shift_session, PINS[NADIA.id])
    second = unlocks(ward, begun.actor.shift_session, PINS[NADIA.id])

    assert isinstance(first, SignedIn)
    assert isinstance(second, SignedIn)
    assert len({begun.token, first.token, second.token}) == 3
    # The later one ends the one before: a person has one session at a time.
    assert (lives(ward, first), lives(ward, second)) == (False, True)
    assert (begun.actor.method, second.actor.method) == (Method.SECRET, Method.PIN)
    assert second.actor.signed_in_at == ward.now
    assert noted(ward, NADIA) == [
        ("signed in", ""),
        ("chose six digits for this shift at this screen", begun.actor.session),
        ("locked", ""),
        ("gave six digits", first.actor.session),
        ("gave six digits", second.actor.session),
    ]


def test_without_six_digits_there_is_nothing_to_unlock(ward: Ward) -> None:
    assert signs_in(ward, NADIA, pin="").actor.shift_session == ""
    assert names_at(ward) == []


def test_obvious_digits_begin_nothing_and_the_right_secret_is_no_failed_try(ward: Ward) -> None:
    for pin in ("123456", "231158", "12345"):
        for _ in range(4):
            refused = signing_in.sign_in(
                ward.site, ward.now, login=NADIA.login, secret=NADIA.secret, device=HERE, unit=WARD, pin=pin
            )
            assert isinstance(refused, SecretFault), pin
    assert names_at(ward) == []


def test_at_one_screen_two_people_are_named_and_each_opens_the_own(ward: Ward) -> None:
    nadia, tomas = signs_in(ward, NADIA), signs_in(ward, TOMAS)
    signs_in(ward, ADELE, device=ELSEWHERE, pin="460971")

    assert names_at(ward) == [NADIA.printed_name, TOMAS.printed_name]
    assert unlocks(ward, nadia.actor.shift_session, PINS[TOMAS.id]) == WrongPin(left=4)
    opened = unlocks(ward, tomas.actor.shift_session, PINS[TOMAS.id])
    assert isinstance(opened, SignedIn)
    assert opened.person.id == TOMAS.id


def test_it_is_told_since_when_nobody_used_it(one_ward: Ward) -> None:
    begun = signs_in(one_ward, NADIA)
    locked = one_ward.wait(3 * A_SECOND).now
    shift_sessions.lock(one_ward.site, locked, begun.actor)
    one_ward.wait(timedelta(minutes=9))

    (found,) = shift_sessions.locked_at(one_ward.site, one_ward.now, HERE)
    assert found.since == locked


def test_no_digits_work_at_another_screen(ward: Ward) -> None:
    shift = signs_in(ward, NADIA).actor.shift_session

    assert unlocks(ward, shift, PINS[NADIA.id], device=ELSEWHERE) == ShiftOver()
    assert unlocks(ward, "no such shift session", PINS[NADIA.id]) == ShiftOver()
    assert isinstance(unlocks(ward, shift, PINS[NADIA.id]), SignedIn)


def test_new_digits_at_the_same_screen_void_the_old_ones(ward: Ward) -> None:
    before = signs_in(ward, NADIA).actor.shift_session
    after = signs_in(ward, NADIA, pin="460971").actor.shift_session

    assert unlocks(ward, before, PINS[NADIA.id]) == ShiftOver()
    assert unlocks(ward, after, PINS[NADIA.id]) == WrongPin(left=4)
    assert isinstance(unlocks(ward, after, "460971"), SignedIn)


# ---------------------------------------------------------------------------------------------------------
# Ended


def test_five_wrong_tries_end_this_shift_session_and_no_other(ward: Ward) -> None:
    elsewhere = signs_in(ward, NADIA, device=ELSEWHERE)
    nadia, tomas = signs_in(ward, NADIA), signs_in(ward, TOMAS)
    shift = nadia.actor.shift_session

    assert [unlocks(ward, shift, WRONG) for _ in range(5)] == [
        *(WrongPin(left=left) for left in (4, 3, 2, 1)),
        ShiftOver(),
    ]
    assert unlocks(ward, shift, PINS[NADIA.id]) == ShiftOver()
    assert names_at(ward) == [TOMAS.printed_name]
    assert isinstance(unlocks(ward, tomas.actor.shift_session, PINS[TOMAS.id]), SignedIn)
    opened = unlocks(ward, elsewhere.actor.shift_session, PINS[NADIA.id], device=ELSEWHERE)
    assert isinstance(opened, SignedIn)
    # Nobody waits: id and secret begin another at once.
    assert isinstance(signs_in(ward, NADIA), SignedIn)
    assert ("six digits were wrong for the last time: shift session ended", "") in noted(ward, NADIA)


def test_many_tries_at_one_instant_are_five_tries(ward: Ward, monkeypatch: pytest.MonkeyPatch) -> None:
    shift, looked, now = signs_in(ward, NADIA).actor.shift_session, [], ward.now

    def counting(*said: Any) -> bool:  # noqa: ANN401  # passed on
        looked.append(said)
        return verify_pin(*said)

    monkeypatch.setattr(shift_sessions, "verify_pin", counting)

    def tries() -> object:
        return shift_sessions.unlock(ward.site, now, shift_session=shift, device=HERE, pin=WRONG)

    said = together(*[tries] * 12)

    assert len(looked) <= 5
    assert said.count(ShiftOver()) >= 8
    assert names_at(ward) == []
    assert unlocks(ward, shift, PINS[NADIA.id]) == ShiftOver()


def test_the_right_digits_forget_the_wrong_tries(ward: Ward) -> None:
    shift = signs_in(ward, NADIA).actor.shift_session
    for _ in range(3):
        assert [unlocks(ward, shift, WRONG) for _ in range(4)][-1] == WrongPin(left=1)
        assert isinstance(unlocks(ward, shift, PINS[NADIA.id]), SignedIn)


def test_tries_that_were_counted_and_never_answered_count(one_ward: Ward) -> None:
    shift = signs_in(one_ward, NADIA).actor.shift_session
    with one_ward.site.store.write() as tx:
        # As if the program had been stopped while it looked at the fifth.
        tx.set_tries(shift, 5)

    assert unlocks(one_ward, shift, PINS[NADIA.id]) == ShiftOver()
    assert names_at(one_ward) == []


def test_it_ends_after_a_shift_and_with_it_what_it_opened(one_ward: Ward) -> None:
    begun = signs_in(one_ward, NADIA)
    began, shift = one_ward.now, begun.actor.shift_session
    one_ward.now = began + timedelta(hours=12) - 2 * A_SECOND
    opened = unlocks(one_ward, shift, PINS[NADIA.id])
    assert isinstance(opened, SignedIn)
    one_ward.wait(A_SECOND)
    assert lives(one_ward, opened)
    assert names_at(one_ward) == [NADIA.printed_name]

    one_ward.wait(A_SECOND)
    assert not lives(one_ward, opened)
    assert names_at(one_ward) == []
    assert unlocks(one_ward, shift, PINS[NADIA.id]) == ShiftOver()


ENDINGS = ("signs out", "is reset", "changes the secret", "is blocked")


@pytest.mark.parametrize("ending", ENDINGS)
def test_it_ends_with_whatever_ends_the_secret_behind_it(ward: Ward, ending: str) -> None:
    shift = signs_in(ward, NADIA).actor.shift_session
    opened, site = unlocks(ward, shift, PINS[NADIA.id]), ward.site
    assert isinstance(opened, SignedIn)
    other = signs_in(ward, TOMAS)
    match ending:
        case "signs out":
            signing_in.sign_out(site, ward.now, opened.actor)
        case "is reset":
            accounts.reset_account(site, ward.now, by=ADELE.id, person=NADIA.id)
        case "changes the secret":
            changed = change_secret(
                site,
                ward.act(NADIA),
                login=NADIA.login,
                secret=NADIA.secret,
                new="seven herons walk by the canal",
            )
            assert isinstance(changed, signing_in.SecretSet), changed
        case _:
            accounts.set_active(site, ward.now, by=ADELE.id, person=NADIA.id, active=False)
            accounts.set_active(site, ward.now, by=ADELE.id, person=NADIA.id, active=True)

    assert not lives(ward, opened)
    assert names_at(ward) == [TOMAS.printed_name]
    assert unlocks(ward, shift, PINS[NADIA.id]) == ShiftOver()
    assert lives(ward, other)


def test_signing_out_at_one_screen_leaves_another_alone(ward: Ward) -> None:
    elsewhere = signs_in(ward, NADIA, device=ELSEWHERE)
    here = signs_in(ward, NADIA)
    signing_in.sign_out(ward.site, ward.now, here.actor)

    assert names_at(ward) == []
    assert names_at(ward, ELSEWHERE) == [NADIA.printed_name]
    assert elsewhere.actor.shift_session


# ---------------------------------------------------------------------------------------------------------
# Never a signature


def test_under_six_digits_a_signature_asks_for_the_secret_and_says_that_it_was_given(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)
    opened = unlocks(ward, signs_in(ward, NADIA).actor.shift_session, PINS[NADIA.id])
    assert isinstance(opened, SignedIn)
    act = Act(now=ward.wait().now, by=opened.actor, new_id=ward.new_id)
    with ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(ward.check)

    def signs(secret: str) -> object:
        return signing.sign_record(
            ward.site, act, ward.check, login=NADIA.login, secret=secret, digest=digest(frozen.document)
        )

    assert signs(PINS[NADIA.id]) == WrongCredential()
    assert signs(NADIA.secret) == signing.Signed(end=None)
    with ward.site.store.read() as reader:
        (kept,) = reader.signatures(ward.check)
    # Not the session that six digits opened: one within it, of the moment at which the secret was given.
    assert kept.session == f"{token_digest(opened.token)}+{NADIA.id}"
    assert kept.signed_in_at == act.now


def test_the_database_refuses_a_signature_of_six_digits(ward: Ward, monkeypatch: pytest.MonkeyPatch) -> None:
    ward.at_stage(Phase.SIGNING)
    opened = unlocks(ward, signs_in(ward, NADIA).actor.shift_session, PINS[NADIA.id])
    assert isinstance(opened, SignedIn)
    act = Act(now=ward.wait().now, by=opened.actor, new_id=ward.new_id)
    with ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(ward.check)
    # A program that took what six digits opened for enough.
    monkeypatch.setattr(signing, "acting_as", lambda act, _: act)

    with pytest.raises(ConstraintBroken, match="signed_with_id_and_secret"):
        signing.sign_record(
            ward.site, act, ward.check, login=NADIA.login, secret=NADIA.secret, digest=digest(frozen.document)
        )
