"""Which records to export, and as what."""

from wtforms import BooleanField, RadioField, StringField
from wtforms.validators import InputRequired

from app.web.forms.checking import TextForm

FORMATS = {
    "csv": "A table for a spreadsheet (CSV): one line for each finding, and for each check without",
    "readings": "The same of what was signed, with what each of the two read (CSV)",
    "jsonl": "Checks and the records themselves (JSON Lines): one document a line",
    "fhir": "Orders, settings, starts and findings for another system (HL7 FHIR R4 Bundle)",
    "parquet": "The table by month for a query engine (Parquet, packed)",
}


class ExportForm(TextForm):
    """From the beginning of the first day to the end of the last."""

    first = StringField("First day", [InputRequired("Write the first day.")])
    last = StringField("Last day", [InputRequired("Write the last day.")])
    deidentified = BooleanField("De-identified, by the rules that its guide states")
    form = RadioField("As", [InputRequired("Choose how.")], choices=FORMATS)
