"""What did not add up by syringe, with its people: what the controlled-drug officer alone is shown."""

from dataclasses import replace
from datetime import timedelta

import pytest

from app.people import Role
from app.records.export_events import Exported
from app.records.handled import LOADED
from app.records.state import Phase
from app.records.taken_back import SPILT, WASTED
from app.records.ward_events import DrugTakenBack
from app.workflow import syringes
from app.workflow.refusals import NotAllowed, WrongSpan
from app.workflow.syringes import (
    AccountsApart,
    AccountsAsked,
    NobodyHasIt,
    TooLong,
    accounts_apart,
    table_of_accounts,
)
from tests.factories.answers import SHORT, answers
from tests.story.people import ADELE, IMOGEN, NADIA, PETRA, QUILL, RUTH, TOMAS, Somebody
from tests.story.ward import BEGAN, Ward

DAY = BEGAN.date()
EVERY = AccountsAsked()
OFFICER = replace(QUILL, roles=frozenset({Role.CONTROLLED_DRUG_OFFICER}))


def seen(ward: Ward, who: Somebody = OFFICER) -> AccountsApart:
    found = asked_for(ward, who=who)
    assert isinstance(found, AccountsApart)
    return found


def asked_for(
    ward: Ward, asked: AccountsAsked = EVERY, who: Somebody = OFFICER
) -> AccountsApart | NotAllowed | NobodyHasIt:
    return accounts_apart(ward.site, ward.act(who), who.roles, asked)


def run_short(ward: Ward) -> Ward:
    """A re-check finds less left than predicted, twice, and both sign that it is open."""
    ward.at_stage(Phase.STARTED).re_checks().both_read(SHORT).compares()
    ward.recounts().both_read(SHORT).compares()
    return ward


def test_what_is_short_is_told_by_syringe_with_who_read_and_the_look_is_kept(ward: Ward) -> None:
    run_short(ward)
    # The check goes on: nothing of it is told to anybody else.
    assert seen(ward).accounts == ()

    ward.both_sign()
    (apart,) = seen(ward).accounts

    (syringe,) = apart.account["syringes"]
    assert syringe["volume"]["difference"]["exact"] not in {"0", ""}
    assert [(each.kind, each.person) for each in apart.involved] == [
        ("set-up", NADIA.id),
        ("set-up", TOMAS.id),
        ("re-check", NADIA.id),
        ("re-check", TOMAS.id),
    ]
    assert {who: each.printed_name for who, each in seen(ward).people.items()} == {
        NADIA.id: NADIA.printed_name,
        TOMAS.id: TOMAS.printed_name,
    }
    (loaded,) = apart.handled
    assert (loaded.what, [each.person for each in loaded.hands]) == (LOADED, [NADIA.id, TOMAS.id])
    with ward.site.store.read() as reader:
        looks = [(row["person"], row["check"]) for row in reader.rows("access") if row["what"] == "syringes"]
    assert looks == [(OFFICER.id, ward.check)] * 2


def test_what_adds_up_is_not_told(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STARTED).re_checks().both_read(answers()).compares().both_sign()

    assert seen(one_ward).accounts == ()


def test_pages_follow_each_other(one_ward: Ward, monkeypatch: pytest.MonkeyPatch) -> None:
    run_short(one_ward).both_sign()
    monkeypatch.setattr(syringes, "PAGE", 1)
    first = seen(one_ward)
    place = (first.accounts[0].row.ended_at, first.accounts[0].row.check)

    after = asked_for(one_ward, AccountsAsked(after=place))

    assert first.next_after is None
    assert isinstance(after, AccountsApart)
    assert after.accounts == ()


def test_whoever_reads_blind_at_the_bed_is_told_nothing_of_it(one_ward: Ward) -> None:
    run_short(one_ward).both_sign()
    both = replace(NADIA, roles=NADIA.roles | OFFICER.roles)
    assert len(seen(one_ward, both).accounts) == 1
    one_ward.re_checks()

    assert seen(one_ward, both).accounts == ()


@pytest.mark.parametrize("who", [NADIA, RUTH, PETRA, QUILL, ADELE, IMOGEN], ids=lambda who: who.id)
def test_nobody_else_is_shown_them(one_ward: Ward, who: Somebody) -> None:
    days = AccountsAsked(first=DAY, last=DAY)

    assert asked_for(one_ward, who=who) == NotAllowed()
    assert table_of_accounts(one_ward.site, one_ward.act(who), who.roles, days) == NotAllowed()


def test_who_reads_now_is_told_to_nobody(one_ward: Ward) -> None:
    """A second re-check is open: two more read at the bed, and whoever is among them reads blind."""
    run_short(one_ward).both_sign()
    before = seen(one_ward)
    one_ward.re_checks()

    (apart,) = seen(one_ward).accounts
    assert apart.involved == before.accounts[0].involved
    assert apart.handled == before.accounts[0].handled


def test_they_are_filtered_by_day_unit_and_whoever_had_a_part(ward: Ward) -> None:
    run_short(ward).both_sign()
    the_day_after = DAY + timedelta(days=1)
    asked = {
        "that day": (AccountsAsked(first=DAY, last=DAY), 1),
        "later": (AccountsAsked(first=the_day_after), 0),
        "earlier": (AccountsAsked(last=DAY - timedelta(days=1)), 0),
        "its unit": (AccountsAsked(unit=NADIA.unit), 1),
        "another unit": (AccountsAsked(unit="recovery"), 0),
        "who read": (AccountsAsked(staff_number=NADIA.newcomer.person.staff_number.lower()), 1),
        "who had no part": (AccountsAsked(staff_number=IMOGEN.newcomer.person.staff_number), 0),
    }
    for name, (filters, count) in asked.items():
        found = asked_for(ward, filters)
        assert isinstance(found, AccountsApart), name
        assert len(found.accounts) == count, name
    assert asked_for(ward, AccountsAsked(staff_number="nobody's")) == NobodyHasIt()
    # A witness reads at no check.
    with ward.site.store.read() as reader:
        infusion = reader.find_check(ward.check)
    assert infusion is not None
    wasted = DrugTakenBack(
        slot=1,
        round=0,
        way=WASTED,
        syringe="1",
        held_in=SPILT,
        volume="1 mL",
        exact="1 mL",
        lot="L7",
        stated_at="",
        witness=PETRA.id,
        received=False,
        first="1 mL",
        not_witnessed="",
    )
    petra = AccountsAsked(staff_number=PETRA.newcomer.person.staff_number)
    before = asked_for(ward, petra)
    with ward.site.store.write() as tx:
        tx.append(wasted, act=ward.act(NADIA), infusion=infusion.infusion)
    after = asked_for(ward, petra)

    assert isinstance(before, AccountsApart)
    assert isinstance(after, AccountsApart)
    assert before.accounts == ()
    assert [each.what for each in after.accounts[0].handled] == [LOADED, SPILT]


def test_the_table_is_of_at_most_a_year_and_stands_in_the_log_first(one_ward: Ward) -> None:
    run_short(one_ward).both_sign()

    def table(asked: AccountsAsked) -> object:
        return table_of_accounts(one_ward.site, one_ward.act(OFFICER), OFFICER.roles, asked)

    that_day = AccountsAsked(first=DAY, last=DAY)
    assert table(EVERY) == table(AccountsAsked(first=DAY)) == TooLong()
    assert table(replace(that_day, last=DAY + timedelta(days=367))) == TooLong()
    assert table(replace(that_day, last=DAY - timedelta(days=1))) == WrongSpan()
    assert table(replace(that_day, staff_number="nobody's")) == NobodyHasIt()
    found = table(that_day)
    assert isinstance(found, AccountsApart)
    assert len(found.accounts) == 1
    with one_ward.site.store.read() as reader:
        told = [each.event for each in reader.entries_of_kind(Exported.kind)]
    assert [(each.form, each.deidentified) for each in told if isinstance(each, Exported)] == [
        ("syringes", False)
    ]
