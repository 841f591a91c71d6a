"""What people do with an authenticator app."""

from app.workflow import authenticators
from tests.story.key_acts import account
from tests.story.people import Somebody
from tests.story.ward import Ward
from tests.support.apps import App


def enrols(ward: Ward, who: Somebody, *, secret: str = "", code: str = "") -> tuple[object, App]:
    """Enrol an app at the own screen."""
    act = ward.act(who)
    shown = authenticators.show_app(ward.site, act, account(ward, who))
    app = App(shown.written)
    enrolled = authenticators.enrol_app(
        ward.site,
        act,
        account(ward, who),
        secret=secret or who.secret,
        chosen=shown.chosen,
        code=code or app.code(act.now),
    )
    return enrolled, app
