"""Who can unlock this screen by six digits: a name, and since when nobody of that name used it."""

from dataclasses import dataclass
from datetime import datetime

from flask import url_for

from app.web import asking
from app.web.asking import site
from app.web.coming_back import leads_somewhere
from app.workflow.shift_sessions import locked_at


@dataclass(frozen=True, kw_only=True)
class Name:
    """One of them."""

    shift_session: str
    address: str
    name: str
    since: datetime


def locked_here(then: str) -> tuple[Name, ...]:
    """Everybody but whoever is signed in here; `then` is where they go on, if it leads anywhere."""
    here, goes_on = asking.find_actor(), leads_somewhere(then)
    return tuple(
        Name(
            shift_session=each.shift_session,
            address=url_for(
                "unlocking.page", shift_session=each.shift_session, then=then if goes_on else None
            ),
            name=each.printed_name,
            since=each.since,
        )
        for each in locked_at(site(), asking.now(), asking.device())
        if here is None or each.person != here.person
    )


def shift_session_here(person: str) -> str:
    """The shift session of a person that six digits open at this screen, or nothing."""
    here = locked_at(site(), asking.now(), asking.device())
    return next((each.shift_session for each in here if each.person == person), "")
