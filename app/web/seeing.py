"""What a view needs first: the check, as far as whoever asks may see it."""

from flask import abort

from app.web import asking
from app.web.asking import site
from app.workflow.looking import Seen, see_check
from app.workflow.refusals import NotFound


def get_seen(check: str) -> Seen:
    """The check; a check that this person may not know of is not there."""
    seen = see_check(site(), asking.act(), check)
    if isinstance(seen, NotFound):
        abort(404)
    return seen
