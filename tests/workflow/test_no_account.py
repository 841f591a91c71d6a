"""The end of what was started without a check, and whose account nobody ever opened."""

import pytest

from app.records.kinds import END_OF_PCA
from app.reports.record import record_page
from app.workflow import opening
from app.workflow.closing_accounts import Closed, close_account, open_accounts
from app.workflow.listing import unit_list
from tests.reports import told
from tests.story.people import NADIA, RUTH, TOMAS
from tests.story.ward import Ward
from tests.workflow.test_end_of_pca import LEFT, OFF, READ


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
    closed = close_account(
        ended.site, ended.act(RUTH), RUTH.roles, left.infusion, reason="Counted in the cupboard with pharmacy"
    )
    assert closed == Closed()
    assert open_accounts(ended.site, ended.act(RUTH), RUTH.roles) == ()


def test_the_record_says_that_it_has_no_account(ended: Ward) -> None:
    ward = ended
    with ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(ward.check)
    document = dict(frozen.told)
    page = record_page(document, digest=told.digest_of(document), signatures=told.signed(document))
    assert document["account"] is None
    assert "No account was ever opened." in page
