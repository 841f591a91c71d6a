"""Forms about signing keys and one's own secret."""

from wtforms import PasswordField, StringField
from wtforms.validators import InputRequired, Length

from app.web.forms.authenticators import LONGEST_SECRET
from app.web.forms.checking import TextForm


class ConfirmKeyForm(TextForm):
    """Id and secret of the colleague who confirms."""

    login = StringField("Id", [InputRequired("Write your id."), Length(max=100)])
    secret = PasswordField("Secret", [InputRequired("Write your secret."), Length(max=LONGEST_SECRET)])


class ChangeSecretForm(TextForm):
    """The secret so far, and the new one twice."""

    secret = PasswordField("Secret so far", [InputRequired("Write your secret."), Length(max=LONGEST_SECRET)])
    new = PasswordField("New secret", [InputRequired("Write a secret."), Length(max=LONGEST_SECRET)])
    again = PasswordField("New secret again", [InputRequired("Write it again."), Length(max=LONGEST_SECRET)])
