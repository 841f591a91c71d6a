"""Passkeys on the pages: for which host they are made, and what a challenge is made for."""

from flask import request

from app.keys import Answer, Party, new_challenge, token_digest
from app.web import asking
from app.web.asking import parts, site
from app.web.forms.authenticators import BesideForm, EnrolForm
from app.workflow.authenticators import Given

SIGN_IN = "sign-in"
ENROL = "enrol"
_LONGEST = 200


def signing_of(check: str, digest: str) -> str:
    """What a challenge is made for that signs this record."""
    return f"sign {check} {digest}"


def host() -> str:
    """The one of the configured hosts under which this page was asked for; no other is served."""
    asked = request.host.rpartition(":")[0] or request.host
    return next((each for each in parts().settings.trusted_hosts if each == asked.lower()), asked)


def challenge_for(act: str) -> str:
    """A challenge for one act, here."""
    return new_challenge(site().key, asking.now(), _made_for(act[:_LONGEST]))


def given_with(form: BesideForm, act: str) -> Given:
    """What a form brings beside the secret, for one act."""
    return Given(code=form.text("code"), passkey=answer_in(form, act))


def answer_in(form: BesideForm | EnrolForm, act: str) -> Answer | None:
    """What a passkey answered, if the form brings that."""
    response = form.text("passkey")
    if not response:
        return None
    party = Party(host=host(), origin=request.host_url.rstrip("/"))
    return Answer(response=response, party=party, made_for=_made_for(act[:_LONGEST]))


def _made_for(act: str) -> str:
    """The act, and who is to do it: this screen and, once somebody is signed in, this session."""
    session = "" if act == SIGN_IN else token_digest(asking.token())
    return f"{asking.device()} {session} {act}"
