"""Past what the quality team is given: trends, and an export that is asked for and ready to be taken."""

from tests.browser.people import Person
from tests.browser.walk_running import Visitor


def given_to_quality(visitor: Visitor, analyst: Person) -> None:
    """All of it."""
    visitor.take(analyst, "my checks, quality")
    _trending(visitor, analyst)
    _exporting(visitor, analyst)


def _exporting(visitor: Visitor, analyst: Person) -> None:
    """It is made apart; the page waits for it by itself."""
    analyst.go("/export")
    visitor.take(analyst, "export")
    analyst.write("First day", "2031-05-02")
    analyst.write("Last day", "2031-05-02")
    analyst.choose("Checks and the records themselves")
    analyst.press("Export")
    analyst.page.get_by_role("link", name="Take the file").wait_for()
    visitor.take(analyst, "export, ready")


def _trending(visitor: Visitor, analyst: Person) -> None:
    """Counts, bars and times, of the few checks of this walk."""
    for about in ("findings", "codes", "times", "missed"):
        analyst.go(f"/trends/{about}")
        visitor.take(analyst, f"trends, {about}")
