"""How the keys of a site begin, when two may begin anew, and that it is named for ever."""

from collections.abc import Iterator

import pytest

from app.auditing.verifying_here import verify_here
from app.auditing.verifying_store import Wanted, verify_store
from app.base import OPERATOR
from app.keys import sign_confirmation
from app.people import Role
from app.records import events
from app.records.kept_keys import KeptKey
from app.records.state import Phase
from app.records.store_verification import Began, Progress
from app.records.verification import Question, Verification
from app.storage import ConstraintBroken
from app.workflow import key_ceremony
from app.workflow.accounts import AccountMade, NewPerson, make_account
from app.workflow.founding import Founded, Founder, NotFounded, Unfounded, found_keys
from app.workflow.issuing import Issued, issue_record
from app.workflow.key_ceremony import KeyConfirmed, usable_key
from app.workflow.key_looking import see_resets
from app.workflow.refusals import KeyNotConfirmed
from tests.story.key_acts import NEW_SECRET, account, confirms, damaged, key_of, reset, sets_secret, signs
from tests.story.people import ADELE, EVERYBODY, NADIA, RUTH, TOMAS, Somebody
from tests.story.ward import Ward


def founds(ward: Ward, one: Somebody, other: Somebody, secret: str = NEW_SECRET) -> object:
    first, second = (Founder(login=each.login, secret=secret) for each in (one, other))
    return found_keys(ward.site, ward.wait().now, first, second)


def every_key_is_lost(ward: Ward) -> None:
    for each in EVERYBODY:
        reset(ward, each)


def anew(ward: Ward) -> None:
    """Every key is lost, and Nadia and Tomas begin anew."""
    every_key_is_lost(ward)
    for each in (NADIA, TOMAS):
        sets_secret(ward, each, reset(ward, each))


def is_usable(ward: Ward, who: Somebody) -> bool:
    person = account(ward, who)
    with ward.site.store.read() as reader:
        return isinstance(usable_key(reader, ward.site, person), KeptKey)


def told(ward: Ward) -> list[object]:
    steps = verify_store(ward.site, ward.now, Wanted(pages=False))
    assert isinstance(steps, Iterator)
    return [each for each in steps if not isinstance(each, Progress)]


def says_of_signature(ward: Ward) -> str:
    """What verification of the file says of the first nurse's signature."""
    with ward.site.store.read() as reader:
        pdf = reader.find_pdf(ward.check, 1)
    assert pdf is not None
    found = verify_here(ward.site, ward.now, pdf.content)
    assert isinstance(found, Verification)
    (said,) = [each for each in found.answers if each.question is Question.SIGNATURE_A]
    assert said.holds
    return said.says


def issued(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED)
    assert isinstance(issue_record(ward.site, ward.check, 1, ward.wait().now), Issued)


def test_the_first_two_begin_and_everybody_leads_to_them(ward: Ward) -> None:
    issued(ward)
    first, second, *_ = EVERYBODY
    (began,) = told(ward)
    assert isinstance(began, Began)
    assert (began.number, {began.first, began.second}) == (1, {first.printed_name, second.printed_name})
    says = says_of_signature(ward)
    # Nadia is one of the two herself.
    assert "with a key that Tomas Osmund confirmed face to face" in says
    assert f"leads to {first.printed_name} and {second.printed_name}, with whom the keys began" in says
    assert "founding" not in says


def test_while_a_confirmed_key_is_in_use_nobody_founds(ward: Ward) -> None:
    for each in (NADIA, TOMAS):
        sets_secret(ward, each, reset(ward, each))
    assert founds(ward, NADIA, TOMAS) == NotFounded(why=Unfounded.CLOSED)
    assert not is_usable(ward, NADIA)


def test_when_every_key_was_lost_two_begin_anew_and_it_is_named_for_ever(ward: Ward) -> None:
    anew(ward)
    assert founds(ward, NADIA, TOMAS) == Founded(number=2)
    assert is_usable(ward, NADIA)
    assert is_usable(ward, TOMAS)
    # And it is closed again.
    sets_secret(ward, ADELE, reset(ward, ADELE, by=RUTH))
    sets_secret(ward, RUTH, reset(ward, RUTH))
    assert founds(ward, ADELE, RUTH) == NotFounded(why=Unfounded.CLOSED)
    assert isinstance(confirms(ward, key_of(ward, RUTH).kid, NADIA, secret=NEW_SECRET), KeyConfirmed)
    # In the log, by verification of the store, and with the invariants unbroken.
    with ward.site.store.read() as reader:
        (founded,) = [
            each.event
            for each in reader.key_entries()
            if isinstance(each.event, events.KeysFounded) and each.event.number == 2
        ]
    assert {founded.first_kid, founded.second_kid} == {key_of(ward, NADIA).kid, key_of(ward, TOMAS).kid}
    again = [each for each in told(ward) if isinstance(each, Began)]
    assert [each.number for each in again] == [1, 2]
    assert "founding 2, all before it being lost" in again[1].says


def test_a_file_of_after_the_second_beginning_names_it(ward: Ward) -> None:
    ward.at_stage(Phase.SIGNING)
    anew(ward)
    assert founds(ward, NADIA, TOMAS) == Founded(number=2)
    for each in (NADIA, TOMAS):
        signs(ward, each, secret=NEW_SECRET)
    assert isinstance(issue_record(ward.site, ward.check, 1, ward.wait().now), Issued)
    assert "It is founding 2 of this site" in says_of_signature(ward)


@pytest.mark.parametrize(
    ("one", "other", "refusal"),
    [
        (NADIA, NADIA, NotFounded(why=Unfounded.ONE_PERSON)),
        (NADIA, RUTH, NotFounded(why=Unfounded.WRONG, login=RUTH.login)),
    ],
)
def test_who_founds_nothing(one_ward: Ward, one: Somebody, other: Somebody, refusal: object) -> None:
    anew(one_ward)
    assert founds(one_ward, one, other) == refusal
    assert not is_usable(one_ward, NADIA)


def test_who_gave_the_code_of_the_other_does_not_found(one_ward: Ward) -> None:
    every_key_is_lost(one_ward)
    sets_secret(one_ward, ADELE, reset(one_ward, ADELE))
    sets_secret(one_ward, NADIA, reset(one_ward, NADIA, by=ADELE))
    assert founds(one_ward, NADIA, ADELE) == NotFounded(why=Unfounded.ONE_PERSON)


def test_one_with_two_logins_of_one_name_does_not_found(one_ward: Ward) -> None:
    anew(one_ward)
    twin = NewPerson(
        login="n.second",
        staff_number="DM-9",
        printed_name="nadia ferrow",
        unit=NADIA.unit,
        roles=NADIA.roles,
        is_another=True,
    )
    made = make_account(one_ward.site, one_ward.wait().now, by=RUTH.id, new_id="second", person=twin)
    assert isinstance(made, AccountMade)
    second = Somebody(id="second", login="n.second", printed_name="nadia ferrow", roles=NADIA.roles)
    sets_secret(one_ward, second, made.code)
    assert founds(one_ward, NADIA, second) == NotFounded(why=Unfounded.ONE_PERSON)


def test_two_who_found_at_the_same_instant_as_others_come_too_late(
    ward: Ward, monkeypatch: pytest.MonkeyPatch
) -> None:
    anew(ward)
    sets_secret(ward, RUTH, reset(ward, RUTH))

    def overtaken(*given: object, **named: object) -> object:
        monkeypatch.undo()
        assert founds(ward, NADIA, RUTH) == Founded(number=2)
        return sign_confirmation(*given, **named)  # type: ignore[arg-type]  # passed on

    monkeypatch.setattr(key_ceremony, "sign_confirmation", overtaken)
    assert founds(ward, NADIA, TOMAS) == NotFounded(why=Unfounded.CLOSED)
    assert not is_usable(ward, TOMAS)


def test_a_founder_s_key_that_does_not_open_is_noted(one_ward: Ward) -> None:
    anew(one_ward)
    kid = key_of(one_ward, TOMAS).kid
    with damaged(one_ward, kid):
        assert founds(one_ward, NADIA, TOMAS) == NotFounded(why=Unfounded.DOES_NOT_OPEN, login=TOMAS.login)


def test_whoever_has_set_no_secret_since_a_reset_does_not_found(one_ward: Ward) -> None:
    anew(one_ward)
    with one_ward.site.store.write() as tx:
        key_ceremony.retire_key_of(tx, one_ward.now, person=TOMAS.id, by="", why="lost")
    assert founds(one_ward, NADIA, TOMAS) == NotFounded(why=Unfounded.NO_KEY, login=TOMAS.login)


def test_one_operator_alone_signs_for_nobody(ward: Ward) -> None:
    """The shell is hers: a login of her making, the nurse reset, both secrets set, a founding tried."""
    ward.at_stage(Phase.SIGNING)
    operator, hers = OPERATOR, "known to whoever had the shell"
    invented = NewPerson(
        login="o.invented",
        staff_number="DM-77",
        printed_name="Olga Invented",
        roles=frozenset({Role.NURSE}),
        unit=NADIA.unit,
    )
    made = make_account(ward.site, ward.wait().now, by=operator, new_id="invented", person=invented)
    assert isinstance(made, AccountMade)
    nobody = Somebody(
        id="invented", login="o.invented", printed_name="Olga Invented", roles=invented.roles, secret=hers
    )
    sets_secret(ward, nobody, made.code, hers)
    sets_secret(ward, NADIA, reset(ward, NADIA, by=Somebody(id=operator, printed_name="", roles=frozenset())))
    kids = {each: key_of(ward, each).kid for each in (nobody, NADIA)}
    # Neither with the login just made, nor the other way about, nor at the host.
    assert confirms(ward, kids[NADIA], nobody) == KeyNotConfirmed(kid=kids[nobody])
    assert confirms(ward, kids[nobody], NADIA, secret=NEW_SECRET) == KeyNotConfirmed(kid=kids[NADIA])
    one, other = Founder(login=nobody.login, secret=hers), Founder(login=NADIA.login, secret=NEW_SECRET)
    assert found_keys(ward.site, ward.wait().now, one, other) == NotFounded(why=Unfounded.CLOSED)
    assert signs(ward, NADIA, secret=NEW_SECRET) == KeyNotConfirmed(kid=kids[NADIA])


def test_an_operator_with_a_confirmed_key_of_her_own_is_named_by_what_she_did(ward: Ward) -> None:
    """The limit: Ruth has the shell too. What she signs as Nadia says whose hands the key came from."""
    ward.at_stage(Phase.SIGNING)
    operator = Somebody(id=OPERATOR, printed_name="", roles=frozenset())
    sets_secret(ward, NADIA, reset(ward, NADIA, by=operator))
    confirms(ward, key_of(ward, NADIA).kid, RUTH)
    signs(ward, NADIA, secret=NEW_SECRET)
    signs(ward, TOMAS)
    assert isinstance(issue_record(ward.site, ward.check, 1, ward.wait().now), Issued)
    says = says_of_signature(ward)
    assert "with a key that Ruth Calloway confirmed face to face" in says
    assert "The code for this key was given at the host's command line." in says
    # And Nadia is told by whom, and by whom her new key was confirmed.
    (told_to_nadia,) = see_resets(ward.site, ward.act(NADIA))
    assert (told_to_nadia.by, told_to_nadia.confirmed_by) == (
        "whoever has the host's command line",
        "Ruth Calloway",
    )


def test_the_database_takes_no_confirmation_with_a_key_that_was_not_confirmed_before(ward: Ward) -> None:
    for each in (NADIA, TOMAS):
        sets_secret(ward, each, reset(ward, each))
    one, other = key_of(ward, NADIA), key_of(ward, TOMAS)
    given = key_ceremony.sign_for(
        one,
        account(ward, NADIA),
        by=account(ward, TOMAS),
        own=other.kid,
        sealed=_sealed(ward, other.kid),
        secret=NEW_SECRET,
        at=ward.now,
    )
    with pytest.raises(ConstraintBroken) as refused, ward.site.store.write() as tx:
        tx.confirm_key(given)  # type: ignore[arg-type]  # it was signed
    assert refused.value.name == "confirmed_with_a_confirmed_key"


def _sealed(ward: Ward, kid: str) -> bytes:
    with ward.site.store.read() as reader:
        return reader.find_sealed(kid) or b""
