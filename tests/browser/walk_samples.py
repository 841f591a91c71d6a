"""Past a random sample: drawn of a day that is over, and one check of it audited."""

from datetime import timedelta

from app.cli.installation import now
from tests.browser.people import Person
from tests.browser.walk_running import Visitor
from tests.browser.ward import Ward
from tests.factories.many_checks import Past, add_all


def auditing_a_sample(ward: Ward, visitor: Visitor, analyst: Person) -> None:
    """All checks of this walk ended today: one of the day before is added to be drawn."""
    site = ward.running.site
    with site.store.read() as reader:
        of = {each.login: each.id for each in reader.people()}
    day_before = now() - timedelta(days=2)
    people = (of["n.ferrow"], of["t.osmund"])
    past = Past(id="past-check", at=day_before, unit="ward-4-east", people=people)
    add_all(site.store, [past])
    analyst.go("/samples")
    analyst.press("Draw")
    visitor.take(analyst, "samples, faults")
    analyst.write("Seed", "may")
    for which in ("First day", "Last day"):
        analyst.write(which, day_before.date().isoformat())
    analyst.write("How many of each unit", "5")
    analyst.press("Draw")
    visitor.take(analyst, "a sample")
    analyst.page.locator("dl a").first.click()
    analyst.choose("Conforms")
    visitor.take(analyst, "audit of a check")
