"""Cookies: no script reads one, no other site's request brings one, none goes over plain http."""

from datetime import timedelta
from typing import Any

from werkzeug.wrappers import Response

from app.web.asking import parts


def keep_cookie(response: Response, name: str, value: str, *, kept: timedelta | None = None) -> None:
    """Have the browser keep it for a time, or for as long as the browser is open."""
    response.set_cookie(name, value, max_age=kept, **_flags())


def drop_cookie(response: Response, name: str) -> None:
    """Have the browser forget it."""
    response.delete_cookie(name, **_flags())


def _flags() -> dict[str, Any]:
    return {"secure": parts().settings.secure_cookies, "httponly": True, "samesite": "Strict"}
