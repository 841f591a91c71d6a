"""Forms of sign-in and of the first secret."""

from wtforms import HiddenField, PasswordField, SelectField, StringField
from wtforms.validators import DataRequired, InputRequired, Length

from app.web.forms.checking import TextForm, offered

LONGEST_SECRET = 300


class SignInForm(TextForm):
    """Id, secret and the unit of this shift."""

    login = StringField("Id", [DataRequired("Write your id."), Length(max=100)])
    secret = PasswordField("Secret", [InputRequired("Write your secret."), Length(max=LONGEST_SECRET)])
    unit = SelectField(
        "Unit of this shift",
        [InputRequired("Choose the unit of this shift."), offered("Choose the unit of this shift.")],
        validate_choice=False,
    )
    # Where one goes on afterwards; nothing is refused for it.
    then = HiddenField()


class FirstSecretForm(TextForm):
    """A one-time code, and the secret that replaces it."""

    login = StringField("Id", [DataRequired("Write your id."), Length(max=100)])
    code = StringField("One-time code", [DataRequired("Write the one-time code."), Length(max=100)])
    secret = PasswordField("New secret", [InputRequired("Write a secret."), Length(max=LONGEST_SECRET)])
    again = PasswordField("New secret, again", [InputRequired("Write it again."), Length(max=LONGEST_SECRET)])

    def one_time_code(self) -> str:
        """The code as it was made, in groups of four capitals, however it was typed."""
        signs = "".join(sign for sign in self.text("code").upper() if sign.isalnum())
        return "-".join(signs[start : start + 4] for start in range(0, len(signs), 4))
