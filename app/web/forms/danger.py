"""The form of whoever sees danger while reading; nothing in it is mandatory, and nothing typed is refused."""

from wtforms import SelectMultipleField, TextAreaField

from app.records.kinds import kind_named
from app.records.reading import sources_in
from app.web.forms.checking import TextForm
from app.words.screens import source_words

_LONGEST_WHY = 500


class DangerForm(TextForm):
    """Which sources it is about, and what was seen."""

    source = SelectMultipleField("What is it about?", validate_choice=False)
    why = TextAreaField("What did you see?")

    def offer(self, kind: str) -> "DangerForm":
        """Offer the sources that a kind of check reads."""
        read = sources_in(kind_named(kind).reads)
        self.source.choices = {each.value: source_words(each.value) for each in read}
        return self

    def told(self) -> str:
        """What was seen: nobody who says that there is danger is told to write less."""
        return self.text("why")[:_LONGEST_WHY]
