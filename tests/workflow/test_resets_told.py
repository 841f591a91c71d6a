"""A reset is told to its nurse and to the charge nurse of her unit, until each has read it."""

from app.workflow.key_looking import read_resets, see_resets
from app.workflow.sessions import SHOWN
from tests.story.key_acts import reset
from tests.story.people import EVERYBODY, NADIA, RUTH, Somebody
from tests.story.ward import Ward


def told(ward: Ward, who: Somebody) -> list[str]:
    return [each.login for each in see_resets(ward.site, ward.act(who))]


def test_a_reset_is_told_to_its_nurse_and_to_the_charge_nurse_of_her_unit(ward: Ward) -> None:
    reset(ward, NADIA)
    everybody = {each.id: told(ward, each) for each in EVERYBODY}
    assert {who for who, logins in everybody.items() if logins == [NADIA.login]} == {NADIA.id, RUTH.id}
    assert {who for who, logins in everybody.items() if logins} == {NADIA.id, RUTH.id}
    # Each time, and to each of them until they have read it; what comes after the page is not read with it.
    until = ward.now
    reset(ward, NADIA)
    read_resets(ward.site, ward.act(RUTH), until=until)
    assert told(ward, RUTH) == [NADIA.login]
    assert told(ward, NADIA) == [NADIA.login] * 2
    ward.wait(SHOWN)
    assert told(ward, RUTH) == []
