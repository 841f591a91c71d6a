"""What is to be done now, in the one ranking: the page asks by itself whether it still shows what is."""

from flask import Blueprint, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.base import Act
from app.people import Permission, Person, may
from app.web import asking
from app.web.access import allowed, waiting
from app.web.asking import parts, site
from app.web.models.ward_now import NowPage, now_page
from app.workflow.looking import unit_names
from app.workflow.placing_stops import stops_nowhere
from app.workflow.rules_seen import waiting_for
from app.workflow.ward_now import Watcher, find_watcher, keep_shown, ward_now

views = Blueprint("ward_now", __name__)

_WHOSE = (Permission.UNIT_FINDINGS, Permission.ALL_FINDINGS)
_PLAIN = {"Content-Type": "text/plain; charset=utf-8"}


@views.get("/now")
@allowed(*_WHOSE)
def page() -> ResponseReturnValue:
    """Somebody asks for it, and is there; what then loads itself again says nothing of that."""
    return redirect(url_for("ward_now.shown", still=request.args.get("still")), 303)


@views.get("/now/shown")
@allowed(*_WHOSE, by_itself=True)
def shown() -> ResponseReturnValue:
    """The page itself."""
    made = _made(asking.act(), asking.person())
    return render_template("ward_now/page.html", page=made, holds_still="still" in request.args)


@views.get("/now/since/<stamp>")
@waiting
def since(stamp: str) -> ResponseReturnValue:
    """Nothing while the page shows what is, else one word, whatever the reason."""
    watcher = find_watcher(
        site(), asking.now(), token=asking.token(), device=asking.device(), idle=parts().settings.idle
    )
    if watcher is not None and _still_shows(watcher, stamp):
        return "", 204
    return "Reload.", _PLAIN


def _still_shows(watcher: Watcher, stamp: str) -> bool:
    may_look = any(may(watcher.person.roles, each) for each in _WHOSE)
    return may_look and (watcher.shown or _made(watcher.act, watcher.person).stamp) == stamp


def _made(act: Act, person: Person) -> NowPage:
    assert act.by is not None  # noqa: S101  # somebody asks
    ward = ward_now(site(), act)
    made = now_page(
        ward,
        stops_nowhere(site(), act, person.roles),
        waiting_for(site(), person),
        person=person,
        here=act.by.unit,
        units=unit_names(site()),
        now=act.now,
    )
    keep_shown(site(), act, person, stamp=made.stamp, position=ward.position)
    return made
