"""What did not add up by syringe, with its people: what the controlled-drug officer alone is shown."""

from dataclasses import replace

import pytest

from app.people import Role
from app.records.state import Phase
from app.workflow import syringes
from app.workflow.refusals import NotAllowed
from app.workflow.syringes import AccountsApart, accounts_apart
from tests.factories.answers import SHORT, answers
from tests.story.people import ADELE, IMOGEN, NADIA, PETRA, QUILL, RUTH, TOMAS, Somebody
from tests.story.ward import Ward

OFFICER = replace(QUILL, roles=frozenset({Role.CONTROLLED_DRUG_OFFICER}))


def seen(ward: Ward, who: Somebody = OFFICER) -> AccountsApart:
    found = accounts_apart(ward.site, ward.act(who), who.roles, after=None)
    assert isinstance(found, AccountsApart)
    return found


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
    assert seen(ward).people == {NADIA.id: NADIA.printed_name, TOMAS.id: TOMAS.printed_name}
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

    after = accounts_apart(one_ward.site, one_ward.act(OFFICER), OFFICER.roles, after=place)

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
    assert accounts_apart(one_ward.site, one_ward.act(who), who.roles, after=None) == NotAllowed()
