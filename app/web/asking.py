"""Who asks, when, and from which device: set up once for each request."""

import hmac
import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import cast
from zoneinfo import ZoneInfo

from flask import Flask, abort, current_app, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.base import Act, Actor, Method
from app.config import Settings
from app.people import Asked, Person, may
from app.records.policy import SitePolicy
from app.site.installation import Site
from app.storage import is_storable
from app.web import noting
from app.web.access import Access, Late, access_of
from app.web.coming_back import sign_in_address
from app.web.forms.signing_in import OnceMoreForm
from app.web.other_sites import go_on_page, is_from_elsewhere
from app.workflow.asked_first import Unready, find_unready
from app.workflow.credentials import Known, Where, acting_as, verify_credential
from app.workflow.refusals import TooManyTries, WrongCredential
from app.workflow.signing_in import Seen, find_lapsed, find_seen

EXTENSION = "countersign"
ZONE = "SITE_ZONE"
TRAINING = "TRAINING"
CSRF_FIELD = "csrf_token"


@dataclass(frozen=True, kw_only=True)
class Parts:
    """What the application is made of; the clock and the ids come from outside."""

    site: Site
    settings: Settings
    clock: Callable[[], datetime]
    new_id: Callable[[], str]
    csrf_key: bytes


def parts() -> Parts:
    """The parts of the application that answers this request."""
    return cast("Parts", current_app.extensions[EXTENSION])


def site() -> Site:
    """The installation."""
    return parts().site


def now() -> datetime:
    """The moment of this request, taken once."""
    return cast("datetime", g.now)


def person() -> Person:
    """The account of whoever is signed in; asking where nobody need be is a bug."""
    return cast("Seen", g.seen).person


def actor() -> Actor:
    """Whoever is signed in, at this device."""
    return cast("Seen", g.seen).actor


def find_actor() -> Actor | None:
    """Whoever is signed in at this device, on a page that needs nobody."""
    return g.seen.actor if g.seen else None


def act() -> Act:
    """The request as an act."""
    return Act(now=now(), by=actor(), new_id=parts().new_id)


def token() -> str:
    """The token of the session that the browser says it has; blank without one."""
    return cast("str", g.token)


def device() -> str:
    """The device's id; a browser without one is given one with the answer."""
    return cast("str", g.device)


def is_for_training() -> bool:
    """Whether this installation is one for training."""
    return bool(current_app.config[TRAINING])


def zone() -> ZoneInfo:
    """The site's time zone, in which times are shown and read; a change of it counts from the next start."""
    return cast("ZoneInfo", current_app.config[ZONE])


def csrf_token() -> str:
    """The token that a form of this session, or before signing in of this device, must bring back."""
    return _token_of(g.token or g.device)


def _token_of(holder: str) -> str:
    return hmac.new(parts().csrf_key, holder.encode(), sha256).hexdigest()


def begin() -> ResponseReturnValue | None:
    """Before each view: moment, device, session; then the forged and the not allowed are turned away."""
    made = parts()
    g.now = made.clock()
    g.let_through = g.cannot_be_kept = False
    g.device = request.cookies.get(made.settings.device_cookie, "")
    from_elsewhere = is_from_elsewhere()
    g.new_device = not _is_device(g.device)
    if g.new_device:
        g.device = secrets.token_hex(16)
        # Only what this browser itself asked to look at tells that the screen has no name yet.
        g.new_device = request.method == "GET" and not from_elsewhere
    if from_elsewhere:
        g.seen, g.token, g.protects = None, "", False
        _refuse_address_of_nothing()
        return go_on_page()
    g.token = request.cookies.get(made.settings.session_cookie, "")
    access = access_of(current_app, request.endpoint) if request.endpoint else Access()
    g.protects = access.protects
    if access.by_token or not access.counts:
        # Nobody may be there: the view itself asks what it needs to, and no more.
        g.seen = None
        _refuse_address_of_nothing()
        return None
    idle = made.settings.idle
    g.seen = (
        find_seen(made.site, g.now, token=g.token, idle=idle, is_there=not access.by_itself)
        if g.token
        else None
    )
    if g.seen is None or g.seen.actor.device != g.device:
        # A session belongs to the device it began at.
        g.seen, g.token = None, ""
    if request.endpoint is None or request.endpoint == "static":
        return None
    _refuse_address_of_nothing()
    instead = _turned_away(access)
    g.let_through = instead is None
    return instead


def _refuse_address_of_nothing() -> None:
    """What no database keeps names nothing."""
    if not all(map(is_storable, (*(request.view_args or {}).values(), *request.args.values()))):
        abort(404)


def _refuse_what_cannot_be_kept() -> None:
    if not all(is_storable(name) and is_storable(text) for name, text in request.form.items(multi=True)):
        g.cannot_be_kept = True
        abort(422)


def _is_device(text: str) -> bool:
    return len(text) == 32 and all(sign in "0123456789abcdef" for sign in text)  # noqa: PLR2004  # 128 bits in hex


def _turned_away(access: Access) -> ResponseReturnValue | None:
    if not access.public and g.seen is None:
        if request.method == "POST" and access.late is not None:
            _come_too_late(access.late)
        return redirect(sign_in_address(), 303)
    if access.needs and not any(may(person().roles, each) for each in access.needs):
        abort(403)
    first = None if access.public else _goes_first_to(access)
    if first is not None:
        return redirect(url_for(first), 303)
    asked = Asked.PIN if access.public else access.asked_of(person().roles)
    if request.method == "POST":
        # Before anything of it is read, and only from somebody who may ask.
        if access.file_of:
            request.max_content_length = access.file_of
            # A file comes back as a field where id and secret are asked once more.
            request.max_form_memory_size = access.file_of
        _refuse_forged(access)
        _refuse_what_cannot_be_kept()
        if asked is Asked.EACH_TIME:
            return _ask_once_more()
    needs_secret = asked in (Asked.SESSION, Asked.EACH_TIME)
    return redirect(sign_in_address(), 303) if needs_secret and actor().method is Method.PIN else None


def _goes_first_to(access: Access) -> str | None:
    """The page that comes before what was asked for."""
    if actor().method is Method.UNENROLLED and not (access.enrols or access.protects):
        # The site asks for more than the secret.
        return "authenticators.page"
    is_act = access.is_act_of(person().roles)
    # Whoever was reset, or is new, is seen by a colleague first; so is done what the site asks first.
    return "keys.page" if is_act and not (person().key_confirmed and unready() is None) else None


def policy() -> SitePolicy | None:
    """The site's policy in force."""
    return cast("Seen", g.seen).policy


def unready() -> Unready | None:
    """What the site still asks of whoever is signed in."""
    return find_unready(site(), now(), person().id, policy())


def _ask_once_more() -> ResponseReturnValue | None:
    """Id and secret with this act; until they come, what was sent stands in the page that asks for them."""
    form = OnceMoreForm(request.form)
    if (form.own_id.data or form.own_secret.data) and form.validate():
        match verify_credential(
            site(),
            now(),
            login=form.text("own_id"),
            secret=form.own_secret.data or "",
            what="confirming",
            where=Where(signed_in=actor().person),
        ):
            case Known(person=given) if given.id == actor().person:
                g.seen = Seen(actor=acting_as(act(), given).by, person=given)
                return None
            case Known():
                form.refuse("own_id", "This is not whoever is signed in here. Nothing was changed.")
            case WrongCredential():
                form.refuse("own_secret", "Id and secret do not belong together. Nothing was changed.")
            case TooManyTries(seconds=seconds):
                form.refuse("own_secret", f"Too many tries with this id. Wait {seconds} s, then try again.")
        noting.sign_in_failed()
    own = {CSRF_FIELD, *(each.name for each in form)}
    sent = [(name, text) for name, text in request.form.items(multi=True) if name not in own]
    return render_template("signing_in/once_more.html", form=form, sent=sent, address=request.path), 422


def _come_too_late(late: Late) -> None:
    """What was typed before a session ran out is its author's, if it comes by the session's own form."""
    token = request.cookies.get(parts().settings.session_cookie, "")
    lapsed = find_lapsed(site(), token=token) if token else None
    if lapsed is None or lapsed.actor.device != g.device:
        return
    if _origin_is_ours() and _brings_token(token):
        _refuse_what_cannot_be_kept()
        late(Act(now=now(), by=lapsed.actor, new_id=parts().new_id), **(request.view_args or {}))


def _refuse_forged(access: Access) -> None:
    if not _origin_is_ours():
        abort(403)
    # A page to sign in, from a link whose session's cookie an older browser kept back, is of this screen.
    is_of_screen = access.public and _brings_token(g.device)
    if not is_of_screen and not _brings_token(g.token or g.device):
        abort(400)


def is_own_form() -> bool:
    """Whether what was sent came by a form of this screen's own, whoever is signed in."""
    return _origin_is_ours() and _brings_token(g.token or g.device)


def _origin_is_ours() -> bool:
    origin = request.headers.get("Origin")
    return origin in (None, "null") or origin == request.host_url.rstrip("/")


def _brings_token(holder: str) -> bool:
    given = request.form.getlist(CSRF_FIELD)
    return len(given) == 1 and hmac.compare_digest(given[0].encode(), _token_of(holder).encode())


def prepare(app: Flask) -> None:
    """Hook the above into an application, and give templates what they all need."""
    app.before_request(begin)
    app.context_processor(
        lambda: {
            "csrf_token": csrf_token,
            "signed_in_as": g.seen.person if g.get("seen") else None,
            "here": g.seen.actor.unit if g.get("seen") else "",
            "can_lock": bool(g.get("seen") and g.seen.actor.shift_session),
            # Nothing stands before what protects a patient.
            "to_be_told": bool(g.get("seen") and g.seen.to_be_told and not g.protects),
            "refused_told": bool(g.get("seen") and g.seen.refused_told and not g.protects),
            "seal_told": bool(g.get("seen") and g.seen.seal_told and not g.protects),
            "key_told": bool(g.get("seen") and g.seen.key_told and not g.protects),
            "now": g.get("now"),
        }
    )
