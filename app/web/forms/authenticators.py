"""What is given beside the secret: on the forms that ask for it, and where it is enrolled."""

from wtforms import HiddenField, PasswordField, StringField
from wtforms.validators import InputRequired, Length

from app.web.forms.checking import TextForm

LONGEST_SECRET = 300
_LONGEST_CODE = 20
# What a passkey answers, as JSON; the certificates of some take a few thousand signs.
_LONGEST_ANSWER = 20_000


class BesideForm(TextForm):
    """A form that asks for id and secret, and for more where the site does."""

    code = StringField("Code of your app", [Length(max=_LONGEST_CODE)])
    # A script fills it in.
    passkey = HiddenField("Passkey", [Length(max=_LONGEST_ANSWER)])


class EnrolForm(TextForm):
    """The first code of an app, or a new passkey, and the own secret."""

    # Which of all secrets the page showed; it is worth nothing in another session.
    chosen = HiddenField()
    code = StringField("Code of your app", [Length(max=_LONGEST_CODE)])
    passkey = HiddenField("Passkey", [Length(max=_LONGEST_ANSWER)])
    secret = PasswordField("Secret", [InputRequired("Write your secret."), Length(max=LONGEST_SECRET)])
