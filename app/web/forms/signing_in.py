"""Forms of sign-in, of unlocking, and of the first secret."""

from wtforms import HiddenField, PasswordField, SelectField, StringField, ValidationError
from wtforms.validators import DataRequired, InputRequired, Length, Regexp

from app.keys import PIN_LENGTH, pin_fault
from app.web.forms.authenticators import LONGEST_SECRET, BesideForm
from app.web.forms.checking import TextForm, offered


def may_be_chosen(form: TextForm, field: PasswordField) -> None:
    """Refuse digits that anybody would try first; none at all are nobody's."""
    fault = pin_fault(field.data, own=(form.text("login"),)) if field.data else None
    if fault is not None:
        raise ValidationError(fault.says)


six_digits = Regexp(f"^[0-9]{{{PIN_LENGTH}}}$", message="Six digits, nothing else. It was no try.")


class SignInForm(BesideForm):
    """Id, secret and the unit of this shift."""

    login = StringField("Id", [DataRequired("Write your id."), Length(max=100)])
    secret = PasswordField("Secret", [InputRequired("Write your secret."), Length(max=LONGEST_SECRET)])
    unit = SelectField(
        "Unit of this shift",
        [InputRequired("Choose the unit of this shift."), offered("Choose the unit of this shift.")],
        validate_choice=False,
    )
    pin = PasswordField("Six digits for this screen", [may_be_chosen])
    # Where one goes on afterwards; nothing is refused for it.
    then = HiddenField()


class UnlockForm(TextForm):
    """Six digits, of whoever the page names."""

    pin = PasswordField("Six digits", [InputRequired("Write your six digits."), six_digits])
    then = HiddenField()


class OnceMoreForm(TextForm):
    """Id and secret of whoever is signed in, with one act; no other form has fields of these names."""

    own_id = StringField("Your id", [DataRequired("Write your id."), Length(max=100)])
    own_secret = PasswordField(
        "Your secret", [InputRequired("Write your secret."), Length(max=LONGEST_SECRET)]
    )


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
