"""The rows of the table of fields that are about the patient: who it is, and what the chart says."""

from functools import partial

from app.records.measures import WEIGHT
from app.records.sources import Field, Form, JudgedBy, Source

_ENGINE = (JudgedBy.ENGINE,)
_YES_NO = ("yes", "no")

PATIENT_NAME = "patient_name"

_of_chart = partial(Field, sources=(Source.CHART,), form=Form.CHOICE, judged_by=_ENGINE)
_risk = partial(_of_chart, from_one=True)
_illness = partial(_risk, choices=("none-charted", "not-recorded", "charted"))

# By which answer a patient is at risk, by its name in findings.
READ_AS: dict[str, str] = {
    "age": "patient.birth_date",
    "weight": "chart.weight",
    "sleep-apnea": "chart.sleep_apnea",
    "lung-disease": "chart.lung_disease",
    "kidney-or-liver-disease": "chart.kidney_or_liver_disease",
    "other-opioid": "chart.other_opioids",
    "sedative": "chart.sedatives",
    "neuraxial-opioid": "chart.neuraxial_opioid",
}

PATIENT_ROWS: tuple[Field, ...] = (
    Field(
        name="identifier",
        label="Patient identifier",
        words="the patient identifier",
        sources=(Source.WRISTBAND, Source.ORDER, Source.LABEL),
        form=Form.TEXT,
        judged_by=(JudgedBy.ENGINE, JudgedBy.RUNS_ELSEWHERE),
        none_in={Source.LABEL: "Not labelled for one patient"},
        from_scan=True,
        hint="Exactly as printed.",
        hint_in={
            Source.ORDER: "All of it, or a star and its last four.",
            Source.LABEL: "All of it, or a star and its last four.",
        },
    ),
    Field(
        name="birth_date",
        label="Date of birth",
        words="the birth date",
        sources=(Source.WRISTBAND, Source.ORDER),
        form=Form.DATE,
        judged_by=_ENGINE,
        hint="The month may be a word.",
    ),
    Field(
        name=PATIENT_NAME,
        label="Name",
        words="the patient's name",
        sources=(Source.WRISTBAND,),
        form=Form.NAME,
        judged_by=(JudgedBy.NOBODY,),
        optional=True,
        found_as="patient.name",
        hint="Only if it helps you: it is compared with nothing.",
    ),
    _of_chart(
        name="order_current",
        label="Order is current and signed",
        words="whether the order is current and signed",
        choices=_YES_NO,
        hint="Signed, not stopped, not replaced by a newer one.",
    ),
    _of_chart(
        name="pharmacist",
        label="Reviewed by a pharmacist",
        words="whether a pharmacist has reviewed the order",
        choices=("verified", "not-yet", "urgent-exception"),
    ),
    _of_chart(
        name="allergy",
        label="Allergy to this drug",
        words="the entry on an allergy to this drug",
        choices=("none-to-this-drug", "intolerance-reviewed", "not-recorded", "to-this-drug-or-its-family"),
    ),
    # To the engine one suffices; but only the yes of both opens what is for tolerant patients alone.
    _of_chart(
        name="opioid_tolerant",
        label="Opioid-tolerant by the hospital's definition",
        words="whether the patient is opioid-tolerant",
        choices=("yes", "unknown", "no"),
    ),
    _risk(
        name="other_opioids",
        label="Other opioids charted, patches included",
        words="the entry on other opioids",
        choices=("none", "charted"),
        hint="By any route.",
    ),
    _risk(
        name="sedatives",
        label="Sedatives charted",
        words="the entry on sedatives",
        choices=("none", "charted"),
    ),
    _risk(
        name="neuraxial_opioid",
        label="Epidural or spinal opioid",
        words="the entry on an epidural or spinal opioid",
        choices=("none", "within-24-h", "running"),
    ),
    _of_chart(
        name="able_to_use_button",
        label="Patient able to use the button",
        words="whether the patient can use the button",
        choices=_YES_NO,
    ),
    _illness(name="sleep_apnea", label="Sleep apnea", words="the entry on sleep apnea"),
    _illness(name="lung_disease", label="Lung disease", words="the entry on lung disease"),
    _illness(
        name="kidney_or_liver_disease",
        label="Kidney or liver disease",
        words="the entry on kidney or liver disease",
    ),
    _risk(
        name="supplemental_oxygen",
        label="Supplemental oxygen",
        words="the entry on supplemental oxygen",
        choices=("none", "on"),
    ),
    _risk(
        name="weight",
        label="Weight",
        words="the weight",
        form=Form.QUANTITY,
        measure=WEIGHT,
        none="Not charted",
    ),
)
