"""Past the pages of an export: what is asked for, and what is ready to be taken."""

from tests.browser.people import Person
from tests.browser.walk_running import Visitor


def exporting(visitor: Visitor, analyst: Person) -> None:
    """It is made apart; the page waits for it by itself."""
    analyst.go("/export")
    visitor.take(analyst, "export")
    analyst.write("First day", "2031-05-02")
    analyst.write("Last day", "2031-05-02")
    analyst.choose("The records themselves")
    analyst.press("Export")
    analyst.page.get_by_role("link", name="Take the file").wait_for()
    visitor.take(analyst, "export, ready")
