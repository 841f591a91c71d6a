"""Which records to export, and as what."""

from wtforms import RadioField, StringField
from wtforms.validators import InputRequired

from app.web.forms.checking import TextForm

FORMATS = {
    "csv": "A table for a spreadsheet (CSV): one line for each finding",
    "jsonl": "The records themselves (JSON Lines): one record a line",
}


class ExportForm(TextForm):
    """From the beginning of the first day to the end of the last."""

    first = StringField("First day", [InputRequired("Write the first day.")])
    last = StringField("Last day", [InputRequired("Write the last day.")])
    form = RadioField("As", [InputRequired("Choose how.")], choices=FORMATS)
