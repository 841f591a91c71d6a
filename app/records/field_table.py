"""The one table of fields, in the order in which a nurse meets them: a row says everything of what is read.

Pages, paper, record, engine and judges ask it through `app.records.fields`.
"""

from functools import partial

from app.records.measures import (
    APNEA_TIME,
    CARRIER_RATE,
    CONCENTRATION,
    CONTINUOUS_RATE,
    FREQUENCY,
    LOCKOUT,
    MASS,
    PERCENT,
    PRESSURE,
    VOLUME,
    WEIGHT,
    WINDOW,
)
from app.records.sources import AskedWhen, Field, Form, JudgedBy, Source

DEMAND = "demand"
CONTINUOUS = "continuous"
DEMAND_AND_CONTINUOUS = "demand-and-continuous"
MODES = (DEMAND, CONTINUOUS, DEMAND_AND_CONTINUOUS)
MODES_WITH_DEMANDS = (DEMAND, DEMAND_AND_CONTINUOUS)
MODES_WITH_CONTINUOUS = (CONTINUOUS, DEMAND_AND_CONTINUOUS)

AMOUNT_IN_VOLUME = "amount-in-volume"
PER_MILLILITRE = "per-millilitre"
STATES_NONE = "states-none"

_YES_NO = ("yes", "no")

_ORDER_AND_DEVICE = (Source.ORDER, Source.DEVICE)
_ALL_THREE = (Source.ORDER, Source.LABEL, Source.DEVICE)

_ENGINE = (JudgedBy.ENGINE,)
# To the engine a source that says *none* of these does not give them: what that means is judged beside it.
_ENGINE_BUT_NONE = (JudgedBy.ENGINE, JudgedBy.NONE_IS_AN_ANSWER)

# What must be looked at again together, because one answer decides whether the next is asked.
_STRENGTH = ("strength", "amount", "volume", "concentration")
_BY_MODE = ("mode", "demand_dose", "lockout", "continuous_rate")
_LIMIT = ("limit_amount", "limit_window")
_CARRIER = ("carrier_fluid", "carrier_rate")

_WITH_AMOUNT = AskedWhen(field="strength", among=(AMOUNT_IN_VOLUME,))
# A mode does not make a dose or a rate idle: one that does not fit the mode is a finding.
_WITH_DEMANDS = AskedWhen(field="mode", among=MODES_WITH_DEMANDS, else_idle=False)
_WITH_CONTINUOUS = AskedWhen(field="mode", among=MODES_WITH_CONTINUOUS, else_idle=False)


_of_wristband = partial(Field, sources=(Source.WRISTBAND,), judged_by=(JudgedBy.WRISTBAND,))
_of_chart = partial(Field, sources=(Source.CHART,), form=Form.CHOICE, judged_by=(JudgedBy.CHART,))
_of_strength = partial(
    Field,
    sources=_ALL_THREE,
    form=Form.QUANTITY,
    judged_by=_ENGINE,
    read_with=_STRENGTH,
    row="concentration",
    label_stands_in=True,
)
_setting = partial(Field, sources=_ORDER_AND_DEVICE, form=Form.QUANTITY)
_of_label = partial(Field, sources=(Source.LABEL,), from_scan=True)
_switch = partial(
    Field, sources=(Source.MONITOR,), form=Form.CHOICE, judged_by=_ENGINE, choices=("on", "off")
)
_alarm = partial(
    Field, sources=(Source.MONITOR,), form=Form.QUANTITY, judged_by=_ENGINE_BUT_NONE, none="None set"
)

TABLE: tuple[Field, ...] = (
    _of_wristband(
        name="identifier",
        label="Patient identifier",
        words="the patient identifier",
        form=Form.TEXT,
        from_scan=True,
        hint="Exactly as printed.",
    ),
    _of_wristband(
        name="birth_date",
        label="Date of birth",
        words="the birth date",
        form=Form.DATE,
        hint="Year-month-day: YYYY-MM-DD.",
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
        label="Verified by a pharmacist",
        words="whether a pharmacist has verified the order",
        choices=("verified", "not-yet", "urgent-exception"),
    ),
    _of_chart(
        name="allergy",
        label="Allergy to this drug",
        words="the allergies to this drug",
        choices=("none-charted", "charted", "not-recorded"),
    ),
    _of_chart(
        name="opioid_tolerant",
        label="Opioid-tolerant by the hospital's definition",
        words="whether the patient is opioid-tolerant",
        choices=("yes", "no", "unknown"),
    ),
    _of_chart(
        name="other_opioids",
        label="Other opioids charted, patches included",
        words="other opioids",
        choices=("none", "charted"),
        hint="By any route.",
    ),
    _of_chart(name="sedatives", label="Sedatives charted", words="sedatives", choices=("none", "charted")),
    _of_chart(
        name="neuraxial_opioid",
        label="Epidural or spinal opioid in the last 24\N{NO-BREAK SPACE}h",
        words="an epidural or spinal opioid in the last 24 h",
        choices=("none", "within-24-h"),
    ),
    _of_chart(
        name="able_to_use_button",
        label="Patient able to use the button",
        words="whether the patient can use the button",
        choices=_YES_NO,
    ),
    _of_chart(
        name="weight",
        label="Weight",
        words="the weight",
        form=Form.QUANTITY,
        measure=WEIGHT,
        none="Not charted",
    ),
    Field(
        name="drug",
        label="Drug",
        words="the drug",
        sources=_ALL_THREE,
        form=Form.DRUG,
        judged_by=_ENGINE,
        last_look=True,
    ),
    Field(
        name="strength",
        label="Strength is written as",
        words="how the strength is written",
        sources=_ALL_THREE,
        form=Form.CHOICE,
        judged_by=_ENGINE,
        choices=(AMOUNT_IN_VOLUME, PER_MILLILITRE),
        choices_in={Source.ORDER: (AMOUNT_IN_VOLUME, PER_MILLILITRE, STATES_NONE)},
        read_with=_STRENGTH,
        row="concentration",
        found_as="concentration",
        hint="Choose how it is written; then only those fields are asked.",
        hint_in={Source.ORDER: "Choose how the order writes it; then only those fields are asked."},
    ),
    _of_strength(
        name="amount",
        label="Amount of drug in the syringe",
        words="the amount of drug in the syringe",
        measure=MASS,
        asked_when=_WITH_AMOUNT,
        hint="Only when it is written as an amount in a volume.",
    ),
    _of_strength(
        name="volume",
        label="Volume of the syringe's content",
        words="the volume in the syringe",
        measure=VOLUME,
        asked_when=_WITH_AMOUNT,
        hint="Only when it is written as an amount in a volume.",
    ),
    _of_strength(
        name="concentration",
        label="Concentration",
        words="the concentration",
        measure=CONCENTRATION,
        # Where nobody said how the strength is written, one of the two ways is missed, not both.
        asked_when=AskedWhen(field="strength", among=(PER_MILLILITRE,), while_blank=False),
        last_look=True,
        hint="Only when it is written per mL.",
    ),
    _setting(
        name="mode",
        label="Mode",
        words="the mode",
        form=Form.CHOICE,
        judged_by=_ENGINE,
        choices=MODES,
        read_with=_BY_MODE,
        last_look=True,
    ),
    _setting(
        name="demand_dose",
        label="Demand dose",
        words="the demand dose",
        judged_by=_ENGINE,
        measure=MASS,
        asked_when=_WITH_DEMANDS,
        last_look=True,
        hint="Only when the mode has demand doses.",
    ),
    _setting(
        name="lockout",
        label="Lockout",
        words="the lockout",
        judged_by=_ENGINE,
        measure=LOCKOUT,
        asked_when=_WITH_DEMANDS,
        last_look=True,
        hint="Only when the mode has demand doses.",
    ),
    _setting(
        name="continuous_rate",
        label="Continuous rate",
        words="the continuous rate",
        judged_by=_ENGINE,
        measure=CONTINUOUS_RATE,
        none="No continuous rate",
        asked_when=_WITH_CONTINUOUS,
        last_look=True,
        hint="Only when the mode has a continuous part.",
    ),
    _setting(
        name="limit_amount",
        label="Limit",
        words="the limit",
        judged_by=_ENGINE,
        measure=MASS,
        none="No limit",
        read_with=_LIMIT,
        found_as="limit.amount",
        last_look=True,
        hint="The most that may be given in a stretch of time.",
    ),
    _setting(
        name="limit_window",
        label="Time window of the limit",
        words="the time window of the limit",
        judged_by=_ENGINE,
        measure=WINDOW,
        asked_when=AskedWhen(field="limit_amount"),
        read_with=_LIMIT,
        row="limit_amount",
        found_as="limit.window",
        hint="Only when there is a limit.",
    ),
    _setting(
        name="loading_dose",
        label="Loading dose",
        words="the loading dose",
        judged_by=_ENGINE,
        measure=MASS,
        none="No loading dose",
    ),
    _setting(
        name="carrier_fluid",
        label="Carrier fluid",
        words="the carrier fluid",
        form=Form.FLUID,
        judged_by=_ENGINE_BUT_NONE,
        none="No carrier",
        read_with=_CARRIER,
        found_as="carrier.fluid",
        hint_in={Source.DEVICE: "What runs beside it, often from a device of its own."},
    ),
    _setting(
        name="carrier_rate",
        label="Carrier rate",
        words="the carrier rate",
        judged_by=_ENGINE,
        measure=CARRIER_RATE,
        asked_when=AskedWhen(field="carrier_fluid"),
        read_with=_CARRIER,
        found_as="carrier.rate",
        hint="Only when a carrier runs.",
    ),
    _of_label(
        name="lot",
        label="Lot",
        words="the lot number",
        form=Form.TEXT,
        judged_by=_ENGINE_BUT_NONE,
        none="None on the label",
    ),
    _of_label(
        name="use_by",
        label="Use by",
        words="the use-by date",
        form=Form.MOMENT,
        judged_by=_ENGINE_BUT_NONE,
        none="None on the label",
        hint="YYYY-MM-DD; where the label has a time of day, add it after a space.",
    ),
    _of_label(
        name="code",
        label="Code on the label",
        words="the scanned code",
        form=Form.CODE,
        judged_by=_ENGINE,
        optional=True,
        hint="Only if the label has one. It may be left blank.",
    ),
    Field(
        name="syringe_size",
        label="Syringe size",
        words="the syringe size",
        sources=(Source.LABEL, Source.DEVICE),
        form=Form.QUANTITY,
        judged_by=_ENGINE,
        measure=VOLUME,
        label_stands_in=True,
        hint="As printed on the barrel.",
        hint_in={Source.DEVICE: "As the device has it set."},
    ),
    Field(
        name="pack",
        label="Line set in use",
        words="the line set in use",
        sources=(Source.DEVICE,),
        form=Form.PACK,
        judged_by=(JudgedBy.READ_ALIKE,),
        hint="The tubing between syringe and patient.",
    ),
    _switch(name="capnography", label="Capnography", words="capnography"),
    _switch(name="pulse_oximetry", label="Pulse oximetry", words="pulse oximetry"),
    _alarm(
        name="low_respiratory_rate",
        label="Low respiratory rate alarm",
        words="the low alarm for the respiratory rate",
        measure=FREQUENCY,
    ),
    _alarm(name="low_spo2", label="Low SpO2 alarm", words="the low alarm for SpO2", measure=PERCENT),
    _alarm(
        name="high_etco2",
        label="High end-tidal CO2 alarm",
        words="the high alarm for end-tidal CO2",
        measure=PRESSURE,
    ),
    _alarm(
        name="apnea_time",
        label="No-breath time alarm",
        words="the apnea alarm time",
        measure=APNEA_TIME,
        hint="Apnoea: how long without a breath until it alarms.",
    ),
)
