"""What another site has a browser ask for: nothing follows from it, and a link goes on by one more tap.

Browsers keep our strict cookies back then, so that whoever is signed in would look like nobody. Without this
the answer would give the screen a new name, and with it end the session; and from a site beside ours, which
is given our cookies, a picture would be enough to keep a session alive.
"""

from flask import abort, render_template, request
from flask.typing import ResponseReturnValue

# A request that a page of another origin has made (Fetch Metadata, W3C). Browsers from before 2023 do not say
# it: for them the cookies are enough, see `app.web.cookies`.
_ELSEWHERE = frozenset({"same-site", "cross-site"})


def is_from_elsewhere() -> bool:
    """Whether the browser says that a page of another origin made this request."""
    return request.headers.get("Sec-Fetch-Site") in _ELSEWHERE


def go_on_page() -> ResponseReturnValue | None:
    """For a link a page that leads where it led; a form is refused, and a file is anybody's."""
    if request.endpoint in (None, "static"):
        return None
    if request.method == "POST":
        abort(403)
    return render_template("parts/from_elsewhere.html", address=request.full_path.removesuffix("?"))
