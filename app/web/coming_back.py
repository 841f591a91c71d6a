"""After signing in one is where one was, or where a scanned code led.

The address comes back from the browser, so it is never followed as it came: it is looked up among our own
routes and made anew from what was found. No other place can be reached by it.
"""

from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qsl, urlencode, urlsplit

from flask import current_app, request, url_for
from werkzeug.exceptions import HTTPException

from app.base import Act
from app.people import Person, may
from app.site.installation import Site
from app.web.access import access_of
from app.workflow.looking import find_place

THEN = "then"
_LONGEST = 500
_CHECK = "comparison.page"
# What answers these is no page that one could be on.
_NO_PAGE = frozenset({"static", "record.pdf", "signing_in.here"})


@dataclass(frozen=True, kw_only=True)
class _Named:
    """A route of ours and what its address names."""

    endpoint: str
    values: dict[str, Any]
    query: str

    @property
    def check(self) -> str:
        """The check that the address names, if it names one."""
        return str(self.values.get("check", ""))

    def address(self) -> str:
        """The address, made anew."""
        path = url_for(self.endpoint, **self.values)
        return f"{path}?{self.query}" if self.query else path


def sign_in_address() -> str:
    """The sign-in page, for whoever is turned away now; it knows what was asked for."""
    asked = request.full_path.removesuffix("?") if request.method == "GET" else request.path
    named = _find(asked)
    worth_it = named is not None and named.endpoint != "lists.my_checks"
    return url_for("signing_in.sign_in_page", then=asked if worth_it else None)


def leads_somewhere(asked: str) -> bool:
    """Whether there is a page of ours behind an address."""
    return _find(asked) is not None


def page_instead() -> str | None:
    """The check's page, for whoever goes back in the browser to where only one of its forms goes."""
    named = _find(request.path) if request.method == "GET" else None
    return named.address() if named else None


def address_after(site: Site, asked: str, act: Act, person: Person) -> str | None:
    """Where this person, now signed in, goes on; None for the list of the own checks.

    On a shared screen somebody else may sign in next: who is not one of a check's two is led to what anybody
    on the unit may know of it, if to anything.
    """
    named = _find(asked)
    if named is None:
        return None
    if named.check:
        place = find_place(site, act, named.check)
        if place is None:
            return None
        if not place.mine:
            named = _Named(endpoint=_CHECK, values={"check": named.check}, query="")
    needs = access_of(current_app, named.endpoint).needs
    return named.address() if not needs or any(may(person.roles, each) for each in needs) else None


def _find(asked: str) -> _Named | None:
    """The page of ours that an address names, or the check's own where only a form goes to it."""
    if not asked.startswith("/") or len(asked) > _LONGEST:
        return None
    address = urlsplit(asked)
    if address.scheme or address.netloc:
        return None
    for method in ("GET", "POST"):
        found = _match(address.path, method)
        if found is None:
            continue
        endpoint, values = found
        if method == "GET" and endpoint not in _NO_PAGE and not access_of(current_app, endpoint).public:
            return _Named(endpoint=endpoint, values=values, query=urlencode(parse_qsl(address.query)))
        if "check" in values:
            return _Named(endpoint=_CHECK, values={"check": values["check"]}, query="")
    return None


def _match(path: str, method: str) -> tuple[str, dict[str, Any]] | None:
    adapter = current_app.create_url_adapter(request)
    assert adapter is not None  # noqa: S101  # there is one within every request
    try:
        endpoint, values = adapter.match(path, method=method)
    except HTTPException:
        return None
    return str(endpoint), dict(values)
