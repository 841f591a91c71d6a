from tests.support.world import World


def test_whoever_signs_in_sees_the_own_checks(world: World) -> None:
    browser = world.at("n.ferrow")

    assert browser.page.heading == "My checks"
    assert "Nadia Ferrow" in browser.page.text
