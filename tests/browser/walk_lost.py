"""The walk past what is shown while the database is lost."""

from unittest.mock import patch

from app.storage import Store, StoreUnavailable
from tests.browser.walk_running import Visitor
from tests.browser.ward import Ward


def while_the_database_is_lost(ward: Ward, visitor: Visitor) -> None:
    """A nurse opens a check, and is told what was kept: what she sent can be sent again."""
    nurse = ward.nurse("t.osmund")
    nurse.go("/open")
    nurse.write("Bed", "23")
    nurse.device.may_be_refused |= {503}
    with patch.object(Store, "write", side_effect=StoreUnavailable(outcome_known=True)):
        nurse.press("Open the check")
    visitor.take(nurse, "not kept, the database is lost")
