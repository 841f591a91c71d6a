"""Access is declared on every view as data; a view that declares none stops the program from starting."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from flask import Flask

from app.people import Asked, Permission, Role, asked_for, is_act

View = Callable[..., Any]
Late = Callable[..., None]
_DECLARED = "_access"


@dataclass(frozen=True, kw_only=True)
class Access:
    """Who may ask: anybody, anybody signed in, or whoever one of their roles permits it."""

    public: bool = False
    # Whether asking says that somebody is there: a page that asks by itself does not.
    counts: bool = True
    needs: tuple[Permission, ...] = ()
    # A page that loads itself again while it is looked at, or not: that is nobody's doing.
    by_itself: bool = False
    # The largest file, in bytes, that a form of this view may bring; none without it.
    file_of: int = 0
    # What is done with a form that comes after its own session has run out of time, before it is turned away.
    late: Late | None = None
    # Of another system, which has a token of its own, no session, and no form of ours.
    by_token: bool = False
    # Of what protects a patient: it waits for nobody to be seen first, and no news stands before it.
    protects: bool = False
    # Of enrolling what a role is asked for beside the secret: whoever has nothing yet gets no further.
    enrols: bool = False
    # What must have been given; without it, what the permissions ask for.
    asked: Asked | None = None

    def asked_of(self, roles: Iterable[Role]) -> Asked:
        """What somebody with these roles must have given."""
        return self.asked or asked_for(roles, self.needs)

    def is_act_of(self, roles: Iterable[Role]) -> bool:
        """Whether somebody with these roles takes up something at a patient with it."""
        return not self.protects and is_act(roles, self.needs)


class UndeclaredAccess(Exception):  # noqa: N818  # named for what happened
    """A bug: a view does not say who may use it."""


def _declare(access: Access) -> Callable[[View], View]:
    def mark(view: View) -> View:
        setattr(view, _DECLARED, access)
        return view

    return mark


def public(view: View) -> View:
    """Anybody may ask, signed in or not."""
    return _declare(Access(public=True))(view)


def waiting(view: View) -> View:
    """A page that waits asks by itself, who or whatever is before it: no session lives the longer for it."""
    return _declare(Access(public=True, counts=False))(view)


def by_token(view: View) -> View:
    """For other systems: the view itself looks at the token that was sent, and there is nobody."""
    return _declare(Access(public=True, by_token=True))(view)


def signed_in(*, asked: Asked, enrols: bool = False) -> Callable[[View], View]:
    """Anybody signed in by what is asked may ask; what they see is decided further in."""
    return _declare(Access(asked=asked, enrols=enrols))


def allowed(
    *permissions: Permission,
    file_of: int = 0,
    late: Late | None = None,
    asked: Asked | None = None,
    protects: bool = False,
    by_itself: bool = False,
) -> Callable[[View], View]:
    """Whoever has one of these permissions may ask, and bring a file of at most `file_of` bytes.

    `late` is given the act of whoever sent a form after the session ran out, and what the address names;
    `asked` is more than the permissions ask for; what `protects` a patient waits for nobody to be seen first.
    A page that loads itself again, `by_itself`, does not say that somebody is there.
    """
    return _declare(
        Access(
            needs=permissions, file_of=file_of, late=late, asked=asked, protects=protects, by_itself=by_itself
        )
    )


def access_of(app: Flask, endpoint: str) -> Access:
    """What the view behind an endpoint declares."""
    declared = getattr(app.view_functions[endpoint], _DECLARED, None)
    if not isinstance(declared, Access):
        raise UndeclaredAccess(endpoint)
    return declared


def require_all_declared(app: Flask) -> None:
    """Refuse to start while any view declares no access."""
    for rule in app.url_map.iter_rules():
        access_of(app, rule.endpoint)
