"""Forms of a random sample: what is drawn, and what was found of a check."""

from wtforms import HiddenField, RadioField, SelectMultipleField, StringField, TextAreaField
from wtforms.validators import DataRequired, Length

from app.web.forms.checking import TextForm, offered
from app.words.sampling import ANSWERS, REASONS
from app.workflow.sampling import LONGEST_SEED, MOST_EACH

_LONGEST = 2000


class DrawForm(TextForm):
    """By which seed, of which days, and how many of each unit."""

    seed = StringField(
        "Seed",
        [
            DataRequired("Write a seed: any words or numbers that anybody may know."),
            Length(max=LONGEST_SEED, message=f"Write at most {LONGEST_SEED} characters."),
        ],
    )
    first = StringField("First day", [DataRequired("Write the first day.")])
    last = StringField("Last day", [DataRequired("Write the last day.")])
    each = StringField("How many of each unit", [DataRequired("Write how many.")])

    def count(self) -> int | None:
        """How many of each unit; None where that is no such number, and then said so."""
        text = self.text("each")
        if text.isascii() and text.isdecimal() and 1 <= int(text[:9]) <= MOST_EACH:
            return int(text)
        if text:
            self.refuse("each", f"Write a whole number from 1 to {MOST_EACH}.")
        return None


class AuditForm(TextForm):
    """What was found of one check."""

    answer = RadioField(
        "What did you find?",
        [DataRequired("Choose one of these."), offered("Choose one of these.")],
        choices=ANSWERS,
        validate_choice=False,
    )
    reasons = SelectMultipleField(
        "Why",
        [offered("Choose from these.")],
        # By the numbers of the worksheet.
        choices={key: f"{number}. {words}" for number, (key, words) in enumerate(REASONS.items(), 1)},
        validate_choice=False,
    )
    known = HiddenField()
    text_said = TextAreaField(
        "In words", [Length(max=_LONGEST, message=f"Write at most {_LONGEST:,} characters.")]
    )

    @property
    def number_known(self) -> int:
        """How many answers stood on the page that this was written on."""
        text = self.text("known")
        return int(text[:9]) if text.isascii() and text.isdecimal() else 0
