"""Forms of accounts: what one is made from, and what it may do. Nobody here chooses another's secret."""

from wtforms import BooleanField, SelectField, SelectMultipleField, StringField
from wtforms.validators import DataRequired, Length

from app.people import Role
from app.web.forms.checking import LONGEST, TextForm, offered
from app.words.screens import ROLES

_SHORT = Length(max=LONGEST, message=f"Write at most {LONGEST} characters.")


def _roles() -> SelectMultipleField:
    return SelectMultipleField(
        "Roles",
        [DataRequired("Choose at least one role."), offered("Choose from these roles.")],
        choices=dict(ROLES),
        validate_choice=False,
    )


class RolesForm(TextForm):
    """What an account may do."""

    roles = _roles()

    def chosen(self) -> frozenset[Role]:
        """The roles that were ticked."""
        return frozenset(Role(each) for each in self.roles.data or ())


class NameForm(TextForm):
    """What a person is called from now on."""

    printed_name = StringField("Name as it is printed", [DataRequired("Write the name."), _SHORT])
    # Asked for where somebody has this name already.
    is_another = BooleanField("This is another person, whose identity I have seen")


class PersonForm(RolesForm):
    """A new account, for one person."""

    printed_name = StringField("Name as it is printed", [DataRequired("Write the name."), _SHORT])
    login = StringField("Id", [DataRequired("Write the id."), _SHORT])
    staff_number = StringField("Staff number", [DataRequired("Write the staff number."), _SHORT])
    unit = SelectField(
        "Unit", [DataRequired("Choose the unit."), offered("Choose the unit.")], validate_choice=False
    )
    # Asked for where somebody has this name already.
    is_another = BooleanField("This is another person, whose identity I have seen")
    # Once more, because the library orders fields as they were made, and faults are told in that order.
    roles = _roles()


class TrainingForm(TextForm):
    """For what somebody was trained, and on what day."""

    topic = StringField("For what")
    trained_on = StringField("On what day")
