"""The form of a bed that has changed."""

from wtforms import StringField

from app.web.forms.checking import TextForm


class BedForm(TextForm):
    """At which bed an infusion is now."""

    bed = StringField("Bed")
