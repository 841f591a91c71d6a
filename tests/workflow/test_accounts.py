"""Accounts, signing in and out, throttling: on the real tables."""

from datetime import timedelta

import pytest

from app.keys import SecretFault, token_digest
from app.people import Role
from app.workflow import accounts, signing_in
from app.workflow.credentials import Known, Where, verify_credential
from app.workflow.refusals import Incomplete, TooManyTries, WrongCredential
from app.workflow.sessions import SignedIn
from tests.story.accounts import makes
from tests.story.people import ADELE, IMOGEN, NADIA, RECOVERY, TOMAS, WARD, Somebody
from tests.story.ward import BEGAN, Ward

IDLE = timedelta(minutes=5)
HALF_A_MINUTE = timedelta(seconds=30)
A_SECOND = timedelta(seconds=1)
OWN = "seven herons walk by the canal"


def signs_in(
    ward: Ward, who: Somebody, *, secret: str = "", login: str = "", unit: str = WARD, device: str = "tablet"
) -> object:
    return signing_in.sign_in(
        ward.site,
        ward.wait(A_SECOND).now,
        login=login or who.login,
        secret=secret or who.secret,
        device=device,
        unit=unit,
    )


def token_of(ward: Ward, who: Somebody) -> str:
    signed_in = signs_in(ward, who)
    assert isinstance(signed_in, SignedIn), signed_in
    return signed_in.token


def seen(ward: Ward, token: str) -> signing_in.Seen | None:
    return signing_in.find_seen(ward.site, ward.now, token=token, idle=IDLE)


def noted(ward: Ward) -> list[tuple[str, str]]:
    """What the log says of accounts since the ward was opened."""
    with ward.site.store.read() as reader:
        events = [each.event for each in reader.log_entries(after=0, limit=10_000) if each.at >= BEGAN]
    return [
        (getattr(each, "person", ""), getattr(each, "what", ""))
        for each in events
        if each.kind in {"security-noted", "account-changed"}
    ]


# ---------------------------------------------------------------------------------------------------------
# Signing in and out


def test_a_session_lives_from_signing_in_to_signing_out(ward: Ward) -> None:
    token = token_of(ward, NADIA)
    here = seen(ward, token)
    assert here is not None
    assert (here.actor.person, here.actor.device, here.actor.unit) == (NADIA.id, "tablet", WARD)
    assert token not in here.actor.session

    signing_in.sign_out(ward.site, ward.now, here.actor)
    # A cookie that is played again is dead.
    assert seen(ward, token) is None
    assert noted(ward)[-2:] == [(NADIA.id, "signed in"), (NADIA.id, "signed out")]


def test_signing_in_ends_the_persons_other_sessions(ward: Ward) -> None:
    first = token_of(ward, NADIA)
    other = token_of(ward, TOMAS)
    second = token_of(ward, NADIA)

    assert seen(ward, first) is None
    assert seen(ward, second) is not None
    assert seen(ward, other) is not None


def test_a_session_ends_when_nobody_uses_it(one_ward: Ward) -> None:
    token = token_of(one_ward, NADIA)
    one_ward.wait(IDLE)
    assert seen(one_ward, token) is not None
    one_ward.wait(IDLE)
    assert seen(one_ward, token) is not None
    one_ward.wait(IDLE + A_SECOND)
    assert seen(one_ward, token) is None


def test_a_session_ends_with_the_shift_however_busy(one_ward: Ward) -> None:
    token = token_of(one_ward, NADIA)
    for _ in range(12 * 60 // 4):
        one_ward.wait(timedelta(minutes=4))
        assert seen(one_ward, token) is not None
    one_ward.wait(timedelta(minutes=1))

    assert seen(one_ward, token) is None


def test_looking_for_a_session_does_not_write_every_time(one_ward: Ward) -> None:
    token = token_of(one_ward, NADIA)
    began = one_ward.now

    for seconds, wanted in ((14, 0), (15, 15), (29, 15), (30, 30)):
        one_ward.now = began + timedelta(seconds=seconds)
        assert seen(one_ward, token) is not None
        with one_ward.site.store.read() as reader:
            session = reader.find_session(token_digest(token))
        assert session is not None
        assert session.last_seen_at == began + timedelta(seconds=wanted)


def test_no_session_without_a_known_token_or_an_active_account(one_ward: Ward) -> None:
    assert seen(one_ward, "no such token") is None
    token = token_of(one_ward, NADIA)
    accounts.set_active(one_ward.site, one_ward.now, by=ADELE.id, person=NADIA.id, active=False)
    assert seen(one_ward, token) is None
    accounts.set_active(one_ward.site, one_ward.now, by=ADELE.id, person=NADIA.id, active=True)
    # The old session stays ended.
    assert seen(one_ward, token) is None
    assert seen(one_ward, token_of(one_ward, NADIA)) is not None


def test_a_shift_elsewhere_is_taken_at_sign_in_and_noted(ward: Ward) -> None:
    signed_in = signs_in(ward, NADIA, unit=RECOVERY)

    assert isinstance(signed_in, SignedIn)
    assert noted(ward)[-1] == (NADIA.id, "signed in, shift taken on recovery")
    assert signs_in(ward, NADIA, unit="ward-9") == signing_in.NoSuchUnit()


def test_an_id_may_be_typed_in_capitals_and_a_secret_may_not(one_ward: Ward) -> None:
    assert isinstance(signs_in(one_ward, NADIA, login=f" {NADIA.login.upper()} "), SignedIn)
    assert signs_in(one_ward, NADIA, secret=NADIA.secret.upper()) == WrongCredential()


@pytest.mark.parametrize(
    ("login", "secret"),
    [
        (NADIA.login, "a secret of somebody else"),
        ("nobody.here", "a secret of somebody else"),
        (NADIA.login, ""),
        ("", ""),
    ],
)
def test_a_wrong_id_and_a_wrong_secret_are_told_apart_by_nothing(
    one_ward: Ward, login: str, secret: str
) -> None:
    tried = verify_credential(
        one_ward.site, one_ward.now, login=login, secret=secret, what="sign-in", where=Where()
    )

    assert tried == WrongCredential()
    # Nor by what is written, but for whose account it is; what was typed is not kept in the log.
    assert noted(one_ward)[-1][1] == "sign-in failed"


# ---------------------------------------------------------------------------------------------------------
# Throttling


def tries(ward: Ward, *, login: str = NADIA.login, secret: str = "") -> object:
    given = secret or "a secret of somebody else"
    return verify_credential(ward.site, ward.now, login=login, secret=given, what="sign-in", where=Where())


def test_from_the_fourth_failure_on_the_account_waits_longer_each_time(ward: Ward) -> None:
    for _ in range(3):
        assert tries(ward) == WrongCredential()
        assert tries(ward, login=IMOGEN.login, secret=IMOGEN.secret)
    waits = []
    for _ in range(9):
        assert tries(ward) == WrongCredential()
        throttled = tries(ward)
        assert isinstance(throttled, TooManyTries)
        waits.append(throttled.seconds - 1)
        ward.wait(timedelta(seconds=throttled.seconds))

    assert waits == [30, 60, 120, 240, 480, 960, 1920, 3600, 3600]


def test_after_the_wait_the_right_secret_opens_and_forgets_the_failures(ward: Ward) -> None:
    for _ in range(4):
        tries(ward)
    assert isinstance(tries(ward, secret=NADIA.secret), TooManyTries)
    ward.wait(HALF_A_MINUTE)

    assert isinstance(tries(ward, secret=NADIA.secret), Known)
    assert [tries(ward) for _ in range(3)] == [WrongCredential()] * 3


@pytest.mark.parametrize(
    "login", [NADIA.login.upper(), f"  {NADIA.login}", "\uff4e\uff41\uff44\uff49\uff41.login"]
)
def test_one_account_is_one_count_however_its_id_is_typed(one_ward: Ward, login: str) -> None:
    for _ in range(4):
        assert tries(one_ward, login=login) == WrongCredential()

    assert isinstance(tries(one_ward, secret=NADIA.secret), TooManyTries)


def test_an_unknown_id_waits_like_a_known_one(one_ward: Ward) -> None:
    assert [tries(one_ward, login="nobody.here") for _ in range(4)] == [WrongCredential()] * 4
    assert isinstance(tries(one_ward, login="nobody.here"), TooManyTries)


def test_nobody_shuts_a_colleague_out(one_ward: Ward) -> None:
    for _ in range(10):
        tries(one_ward)

    assert isinstance(tries(one_ward, login=TOMAS.login, secret=TOMAS.secret), Known)
    one_ward.wait(HALF_A_MINUTE)
    assert isinstance(tries(one_ward, secret=NADIA.secret), Known)


def test_what_fails_far_away_keeps_nobody_from_signing_in_at_a_screen_that_knows_them(ward: Ward) -> None:
    token_of(ward, NADIA)
    for _ in range(6):
        signs_in(ward, NADIA, secret="a guess", device="far away")

    assert isinstance(signs_in(ward, NADIA, device="far away"), TooManyTries)
    assert isinstance(signs_in(ward, NADIA, device="new to her"), TooManyTries)
    assert isinstance(signs_in(ward, NADIA), SignedIn)
    # Guessing there is slowed as well.
    assert [signs_in(ward, NADIA, secret="a guess") for _ in range(4)] == [WrongCredential()] * 4
    assert isinstance(signs_in(ward, NADIA), TooManyTries)


def test_tries_at_the_same_instant_are_all_counted(ward: Ward) -> None:
    from tests.support.together import together

    said = together(*(lambda: tries(ward) for _ in range(8)))

    assert sorted(type(each).__name__ for each in said) == ["TooManyTries"] * 4 + ["WrongCredential"] * 4


# ---------------------------------------------------------------------------------------------------------
# Accounts


def test_an_account_begins_with_a_one_time_code_that_its_person_replaces(ward: Ward) -> None:
    made = makes(ward)
    assert isinstance(made, accounts.AccountMade)

    def replaces(code: str, secret: str = OWN) -> object:
        return signing_in.replace_code(ward.site, ward.now, login="R.Hale", code=code, secret=secret)

    # Until then it opens nothing.
    assert tries(ward, login="r.hale", secret=made.code) == WrongCredential()
    assert replaces("AAAA-AAAA-AAAA-AAAA") == signing_in.CodeWrong()
    assert isinstance(replaces(made.code, "short"), SecretFault)
    assert isinstance(replaces(made.code, "rowan hale ward nurse"), SecretFault)
    assert replaces(made.code) == signing_in.SecretSet()
    assert isinstance(tries(ward, login="r.hale", secret=OWN), Known)
    # It works once.
    assert replaces(made.code) == signing_in.CodeWrong()
    assert noted(ward)[0] == (made.person, "made")


def test_a_code_is_typed_as_people_type(one_ward: Ward) -> None:
    made = makes(one_ward)
    assert isinstance(made, accounts.AccountMade)
    typed = made.code.lower().replace("-", " ")

    assert (
        signing_in.replace_code(one_ward.site, one_ward.now, login="r.hale", code=typed, secret=OWN)
        == signing_in.SecretSet()
    )


def test_a_code_does_not_live_for_ever(one_ward: Ward) -> None:
    made = makes(one_ward)
    assert isinstance(made, accounts.AccountMade)
    one_ward.wait(accounts.CODE_LIFE + A_SECOND)

    assert (
        signing_in.replace_code(one_ward.site, one_ward.now, login="r.hale", code=made.code, secret=OWN)
        == signing_in.CodeWrong()
    )


@pytest.mark.parametrize(
    ("changes", "refusal"),
    [
        ({"login": " "}, Incomplete(fields=("login",))),
        ({"staff_number": "", "printed_name": ""}, Incomplete(fields=("staff_number", "printed_name"))),
        ({"roles": frozenset()}, Incomplete(fields=("roles",))),
        ({"unit": "ward-9"}, Incomplete(fields=("unit",))),
        ({"login": "Ward"}, accounts.SharedName()),
        ({"login": " TEST "}, accounts.SharedName()),
        ({"login": NADIA.login.upper()}, accounts.TakenName(constraint="login_unique")),
        ({"staff_number": f"DM-{NADIA.id}"}, accounts.TakenName(constraint="staff_number_unique")),
        # One woman as two, by another spelling.
        ({"staff_number": f"dm{NADIA.id}"}, accounts.TakenName(constraint="staff_number_unique")),
        ({"login": NADIA.login.replace(".", "-")}, accounts.TakenName(constraint="login_unique")),
    ],
)
def test_accounts_that_are_not_made(one_ward: Ward, changes: dict[str, object], refusal: object) -> None:
    assert makes(one_ward, **changes) == refusal
    assert noted(one_ward) == []


def test_a_login_is_never_given_to_another_also_after_its_account_was_closed(one_ward: Ward) -> None:
    accounts.set_active(one_ward.site, one_ward.now, by=ADELE.id, person=NADIA.id, active=False)

    assert makes(one_ward, login=NADIA.login) == accounts.TakenName(constraint="login_unique")


def test_a_reset_ends_every_session_and_voids_the_secret(ward: Ward) -> None:
    token = token_of(ward, NADIA)
    reset = accounts.reset_account(ward.site, ward.now, by=ADELE.id, person=NADIA.id)
    assert isinstance(reset, accounts.Changed)

    assert seen(ward, token) is None
    assert signs_in(ward, NADIA) == WrongCredential()
    replaced = signing_in.replace_code(ward.site, ward.now, login=NADIA.login, code=reset.code, secret=OWN)
    assert replaced == signing_in.SecretSet()
    assert isinstance(signs_in(ward, NADIA, secret=OWN), SignedIn)


def test_an_account_that_was_closed_opens_nothing(ward: Ward) -> None:
    assert (
        accounts.set_active(ward.site, ward.now, by=ADELE.id, person=NADIA.id, active=False)
        == accounts.Changed()
    )
    assert signs_in(ward, NADIA) == WrongCredential()
    reset = accounts.reset_account(ward.site, ward.now, by=ADELE.id, person=NADIA.id)
    assert isinstance(reset, accounts.Changed)

    assert (
        signing_in.replace_code(ward.site, ward.now, login=NADIA.login, code=reset.code, secret=OWN)
        == signing_in.CodeWrong()
    )
    assert (NADIA.id, "deactivated") in noted(ward)


def test_roles_change_at_once_and_never_to_none(ward: Ward) -> None:
    both = frozenset({Role.NURSE, Role.CHARGE_NURSE})
    assert (
        accounts.set_roles(ward.site, ward.now, by=ADELE.id, person=NADIA.id, roles=both)
        == accounts.Changed()
    )

    changed = accounts.find_account(ward.site, NADIA.id)
    assert changed is not None
    assert changed.roles == both
    assert accounts.set_roles(
        ward.site, ward.now, by=ADELE.id, person=NADIA.id, roles=frozenset()
    ) == Incomplete(fields=("roles",))


def test_nobody_is_changed_who_is_not_there(one_ward: Ward) -> None:
    site, now = one_ward.site, one_ward.now

    assert accounts.reset_account(site, now, by=ADELE.id, person="nobody") == accounts.NoSuchPerson()
    assert (
        accounts.set_active(site, now, by=ADELE.id, person="nobody", active=True) == accounts.NoSuchPerson()
    )
    assert (
        accounts.set_roles(site, now, by=ADELE.id, person="nobody", roles=frozenset({Role.NURSE}))
        == accounts.NoSuchPerson()
    )
    assert accounts.find_account(site, "nobody") is None
    assert NADIA.printed_name in [each.printed_name for each in accounts.everyone(site)]


def test_no_secret_and_no_code_is_in_the_log(one_ward: Ward) -> None:
    made = makes(one_ward)
    assert isinstance(made, accounts.AccountMade)
    tries(one_ward, login="my secret typed in the wrong field")
    signing_in.replace_code(one_ward.site, one_ward.now, login="r.hale", code=made.code, secret=OWN)
    with one_ward.site.store.read() as reader:
        log = b"".join(each.canonical for each in reader.log_entries(after=0, limit=10_000))

    for secret in (made.code, OWN, "my secret typed"):
        assert secret.encode() not in log
