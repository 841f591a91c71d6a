"""Forms of the review of a finding."""

from wtforms import RadioField, SelectField, SelectMultipleField, TextAreaField
from wtforms.validators import DataRequired, Length

from app.web.forms.checking import TextForm, offered
from app.words.reviewing import CATEGORIES, FACTORS, READERS

_LONGEST = 2000
_NOT_TOO_LONG = Length(max=_LONGEST, message=f"Write at most {_LONGEST:,} characters.")
# A choice of nobody is a choice: a form sends it by a word of its own.
NOBODY = "nobody"


class ReviewForm(TextForm):
    """That somebody has looked through it."""

    seen_text = TextAreaField("What you found", [_NOT_TOO_LONG])


class AssignForm(TextForm):
    """To whom it is given."""

    to = SelectField(
        "To whom", [DataRequired("Choose a person."), offered("Choose a person.")], validate_choice=False
    )
    to_text = TextAreaField("What for", [_NOT_TOO_LONG])


class CommentForm(TextForm):
    """What is written beside it."""

    note = TextAreaField("Note", [DataRequired("Write the note."), _NOT_TOO_LONG])


class ClassifyForm(TextForm):
    """What error it was."""

    category = RadioField(
        "What error was it?",
        [DataRequired("Choose a letter."), offered("Choose a letter.")],
        choices=CATEGORIES,
        validate_choice=False,
    )
    readers = RadioField(
        "Whose misreading was it?",
        [
            DataRequired("Say whose misreading it was, or that nobody misread."),
            offered("Choose one of these."),
        ],
        choices={letters or NOBODY: words for letters, words in READERS.items()},
        validate_choice=False,
    )
    factors = SelectMultipleField(
        "What may have contributed?", [offered("Choose from these.")], choices=FACTORS, validate_choice=False
    )
    why = TextAreaField("Why you say so", [_NOT_TOO_LONG])
