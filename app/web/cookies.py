"""Cookies: no script reads one, none goes over plain http, and no other site's request brings one.

But for the name of the screen, which opens nothing: that comes along with another site's link (not with its
form or picture), so that a screen which has a name is never given a second one, which would end the session.
"""

from datetime import timedelta
from typing import Any

from werkzeug.wrappers import Response

from app.web.asking import parts


def keep_cookie(
    response: Response, name: str, value: str, *, kept: timedelta | None = None, strict: bool = True
) -> None:
    """Have the browser keep it for a time, or for as long as the browser is open."""
    response.set_cookie(name, value, max_age=kept, **_flags(strict=strict))


def drop_cookie(response: Response, name: str) -> None:
    """Have the browser forget it."""
    response.delete_cookie(name, **_flags())


def _flags(*, strict: bool = True) -> dict[str, Any]:
    site = "Strict" if strict else "Lax"
    return {"secure": parts().settings.secure_cookies, "httponly": True, "samesite": site}
