"""Past the pages of what a site sets for itself: its rules, which two people change, its beds, its units."""

from collections.abc import Callable

from tests.browser.people import Person

Take = Callable[[Person, str], object]


def rules_of_the_site(take: Take, pharmacist: Person, administrator: Person) -> None:
    """A time of the policy is changed, compared, proposed, and approved by another."""
    pharmacist.go("/rules")
    take(pharmacist, "rules")
    pharmacist.follow("Drug library")
    take(pharmacist, "rules, the drug library")
    pharmacist.follow("morphine")
    take(pharmacist, "rules, a drug to change")
    pharmacist.go("/rules/library/change/new-drug")
    pharmacist.press("See what differs")
    take(pharmacist, "rules, a new drug, a fault")
    pharmacist.go("/rules/safety-steps/change/step.baseline")
    take(pharmacist, "rules, a safety step to change")
    pharmacist.go("/rules/policy/change/times")
    pharmacist.page.get_by_label("Ready to start, minutes").fill("soon")
    pharmacist.press("See what differs")
    take(pharmacist, "rules, values to change, a fault")
    pharmacist.page.get_by_label("Ready to start, minutes").fill("20")
    pharmacist.press("See what differs")
    take(pharmacist, "rules, what differs")
    pharmacist.write("Why", "Porters need longer.")
    pharmacist.press("Propose it")
    take(pharmacist, "rules, proposed")
    administrator.go("/rules")
    administrator.follow("proposed by")
    take(administrator, "rules, another's proposal")
    administrator.press("Approve policy")
    take(administrator, "rules, approved")


def beds_and_units(take: Take, administrator: Person) -> None:
    """A bed without a name, and a unit that would be called by nothing."""
    administrator.go("/beds")
    with administrator.page.expect_navigation():
        administrator.page.get_by_role("button", name="Add the bed").first.click()
    take(administrator, "beds, a fault")
    administrator.go("/units")
    administrator.page.get_by_label("Name").first.fill("-")
    administrator.press("Rename the unit: Recovery room")
    take(administrator, "units, a fault")
