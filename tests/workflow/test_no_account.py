"""The end of what has no account: nobody ever opened one, or none can be made of what was written."""

from typing import Any

import pytest

from app.records import account
from app.records.kinds import END_OF_PCA
from app.records.state import Phase
from app.reports.record import record_page
from app.workflow import opening
from app.workflow.closing_accounts import Closed, open_accounts
from app.workflow.listing import unit_list
from tests.reports import told
from tests.story.people import NADIA, RUTH, TOMAS
from tests.story.ward import Ward, open_ward
from tests.workflow.test_closing_accounts import looks_and_closes
from tests.workflow.test_end_of_pca import LEFT, OFF, READ, at_the_remainder


@pytest.fixture
def ended(one_ward: Ward) -> Ward:
    """It runs in a hurry, nobody reads its label, and it ends."""
    ward = one_ward
    ward.starts_without_check(bed="12")
    (infusion,) = (each.infusion for each in unit_list(ward.site, ward.act(RUTH)).unchecked)
    opened = opening.open_on_infusion(ward.site, ward.act(NADIA), END_OF_PCA, infusion)
    assert isinstance(opened, opening.Opened)
    ward.check = opened.check
    ward.joins().both_read(READ).compares()
    ward.does(NADIA, OFF).verifies(TOMAS, OFF).taking_back(NADIA, RUTH, given=LEFT)
    return ward.confirms_all().both_sign()


def test_the_charge_nurse_has_it_until_she_closes_it(ended: Ward) -> None:
    """What nobody can add up is not left with nobody."""
    (left,) = open_accounts(ended.site, ended.act(RUTH), RUTH.roles)
    assert (left.check, left.adds_up, left.has_none) == (ended.check, False, True)
    assert looks_and_closes(ended, RUTH, left.infusion) == Closed()
    assert open_accounts(ended.site, ended.act(RUTH), RUTH.roles) == ()


def test_the_record_says_that_it_has_no_account(ended: Ward) -> None:
    document, page = record_of(ended)
    assert document["account"] is None
    assert "No account was ever opened." in page


def record_of(ward: Ward) -> tuple[dict[str, Any], str]:
    """As data, and its page."""
    with ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(ward.check)
    document = dict(frozen.told)
    return document, record_page(document, digest=told.digest_of(document), signatures=told.signed(document))


def test_of_what_no_account_can_be_made_it_ends_all_the_same_and_the_charge_nurse_is_told(
    sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the engine refuses, here a barrel smaller than its label, keeps no end from its two."""
    holds_too_little = {"volume": "30 mL", "amount": "6 mg", "size": "3 mL"}
    monkeypatch.setattr(account, "label_content", lambda *_: holds_too_little)
    # Nothing of ours writes such a thing: no invariant is asked of it.
    with open_ward(sqlite_url) as ward:
        at_the_remainder(ward)
        assert ward.phase is Phase.STEPS
        ward.taking_back(NADIA, RUTH, given=LEFT)
        ward.confirms_all().both_sign()

        assert [each.code for each in ward.state().open_account] == ["account-not-computed"]
        document, page = record_of(ward)
        assert document["account"] is None
        assert "No account can be made of what was written." in page
        assert len(open_accounts(ward.site, ward.act(RUTH), RUTH.roles)) == 1
