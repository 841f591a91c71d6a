"""For whoever watches the server: whether it answers, and whether what it stands on is there."""

from flask import Blueprint
from flask.typing import ResponseReturnValue

from app.site.installation import KeysUnusable, usable_site_keys
from app.site.readiness import rule_faults
from app.storage import StoreUnavailable
from app.web.access import waiting
from app.web.asking import now, parts, site

views = Blueprint("watching", __name__)

_PLAIN = {"Content-Type": "text/plain; charset=utf-8"}


@views.get("/health")
@waiting
def health() -> ResponseReturnValue:
    """The process answers; nothing else is asked, so that a lost database does not have it started anew."""
    return "it answers\n", 200, _PLAIN


@views.get("/ready")
@waiting
def ready() -> ResponseReturnValue:
    """Whether work may be sent here; of what is missing only the part is named: anybody may ask."""
    missing = _missing()
    return (f"not ready: {missing}\n", 503, _PLAIN) if missing else ("ready\n", 200, _PLAIN)


def _missing() -> str:
    try:
        faults = tuple(rule_faults(site().store, now()))
    except StoreUnavailable:
        return "database"
    if faults and not parts().settings.demo:
        return faults[0].part
    return "keys of the site" if isinstance(usable_site_keys(site(), now()), KeysUnusable) else ""
