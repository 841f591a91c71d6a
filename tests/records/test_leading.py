"""To which kind of check leads what one found that puts nothing right itself."""

import pytest

from app.records.followup import Found, leads_to
from app.records.kinds import RE_CHECK, SET_UP, SETTINGS_CHANGE
from tests.factories.findings import DEVICE_WRONG, DIFFER, RULE, a_finding

OTHER_DRUG_SET = a_finding("device-differs", field="drug")
EXPIRED = a_finding("label-expired", field="use_by")


@pytest.mark.parametrize(
    ("stops", "kind"),
    [
        ((DEVICE_WRONG,), "settings-change"),
        ((DEVICE_WRONG, RULE), "settings-change"),
        # A syringe past its use-by is changed.
        ((EXPIRED,), "syringe-change"),
        # What is wrong with the syringe, or with more than can be set, is set up anew.
        ((DEVICE_WRONG, EXPIRED), "repeat-set-up"),
        ((OTHER_DRUG_SET,), "repeat-set-up"),
        # What the two read apart tells nobody what it may come to.
        ((DEVICE_WRONG, DIFFER), "repeat-set-up"),
        ((), "repeat-set-up"),
    ],
)
def test_a_re_check_leads_to_the_narrowest_kind_that_puts_right_what_it_found(
    stops: tuple[Found, ...], kind: str
) -> None:
    assert leads_to(RE_CHECK, stops, in_force="check-1") == kind


def test_what_puts_right_itself_leads_nowhere() -> None:
    assert {
        leads_to(SET_UP, (DEVICE_WRONG,), in_force="check-1"),
        leads_to(SETTINGS_CHANGE, (), in_force="check-1"),
    } == {""}


def test_what_no_two_have_put_in_force_is_set_up_anew_whatever_is_wrong_with_it() -> None:
    assert leads_to(RE_CHECK, (DEVICE_WRONG,), in_force="") == "repeat-set-up"
