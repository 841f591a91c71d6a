"""The page where the database is lost, full or too busy: what was kept, what was not, and what was sent."""

from flask import render_template, request

from app.storage import StoreUnavailable, Trouble
from app.web import asking, noting

# A secret never stands in a page.
SECRETS = frozenset({"secret", "own_secret", "pin", "new", "again"})

_WHY = {
    Trouble.LOST: "The database cannot be reached.",
    Trouble.FULL: "The database is full.",
    Trouble.BUSY: "The database is too busy.",
    Trouble.DAMAGED: "The database is damaged.",
}
_STANDS = "All that was kept before stands."


def say_what_was_kept(error: StoreUnavailable) -> tuple[str, int, dict[str, str]]:
    """Never say done, and say so when even that is not known; what was sent can be sent again."""
    noting.lost_database(error)
    heading, what = _words(error)
    page = render_template(
        "parts/not_kept.html",
        heading=heading,
        why=_WHY[error.trouble],
        what=what,
        next=_next(),
        sent=_sent(),
        address=request.full_path.rstrip("?"),
        empties_itself=True,
    )
    return page, 503, {"Retry-After": "5"}


def _words(error: StoreUnavailable) -> tuple[str, str]:
    if request.method != "POST":
        return "Not shown", "Nothing was changed."
    if error.outcome_known:
        return "Not kept", f"Nothing of what you just sent was kept. {_STANDS}"
    return "Perhaps not kept", f"Whether what you just sent was kept is not known. {_STANDS}"


def _next() -> str:
    if request.method != "POST":
        return "Reload in a moment."
    return "Go back to the page before in a moment, look what is kept, and write what is not once more."


def _sent() -> list[tuple[str, str]]:
    """What a form of this session's own brought, but for one with a secret or a file."""
    if request.method != "POST" or not asking.is_own_form() or request.files:
        return []
    if any(request.form.get(name) for name in SECRETS):
        return []
    return [(name, text) for name, text in request.form.items(multi=True) if name != asking.CSRF_FIELD]
