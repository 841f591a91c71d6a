"""The one table of fields, in the order in which a nurse meets them: a row says everything of what is read.

Pages, paper, record, engine and judges ask it through `app.records.fields`.
"""

from functools import partial

from app.records.also_read import DEVICE_SERIAL, ORDER_NUMBER, PRESCRIBER
from app.records.bedside_rows import BEDSIDE_ROWS
from app.records.label_rows import LABEL_ROWS
from app.records.measures import (
    APNEA_TIME,
    CARRIER_RATE,
    CONCENTRATION,
    CONTINUOUS_RATE,
    FREQUENCY,
    LOCKOUT,
    MASS,
    MASS_OR_VOLUME,
    PERCENT,
    PRESSURE,
    RATE_IN_MASS_OR_VOLUME,
    VOLUME,
    WINDOW,
)
from app.records.patient_rows import PATIENT_ROWS
from app.records.sources import AskedWhen, Field, Form, JudgedBy, Source
from app.records.totals_rows import TOTALS_ROWS

DEMAND = "demand"
CONTINUOUS = "continuous"
DEMAND_AND_CONTINUOUS = "demand-and-continuous"
MODES = (DEMAND, CONTINUOUS, DEMAND_AND_CONTINUOUS)
MODES_WITH_DEMANDS = (DEMAND, DEMAND_AND_CONTINUOUS)
MODES_WITH_CONTINUOUS = (CONTINUOUS, DEMAND_AND_CONTINUOUS)

AMOUNT_IN_VOLUME = "amount-in-volume"
PER_MILLILITRE = "per-millilitre"
STATES_NONE = "states-none"
IN_MILLILITRES = "in-millilitres"
# How the strength is written where no number is.
STRENGTHS_WITHOUT_ONE = (STATES_NONE, IN_MILLILITRES)

LIMITS = (
    ("limit_amount", "limit_window"),
    ("limit_2_amount", "limit_2_window"),
    ("limit_3_amount", "limit_3_window"),
)
"""Each limit with its time window."""

_ORDER_AND_DEVICE = (Source.ORDER, Source.DEVICE)
_ALL_THREE = (Source.ORDER, Source.LABEL, Source.DEVICE)

_ENGINE = (JudgedBy.ENGINE,)
# To the engine a source that says *none* of these does not give them: what that means is judged beside it.
_ENGINE_BUT_NONE = (JudgedBy.ENGINE, JudgedBy.NONE_IS_AN_ANSWER)

# What must be looked at again together, because one answer decides whether the next is asked.
_STRENGTH = ("strength", "amount", "volume", "concentration")
_BY_MODE = ("mode", "demand_dose", "lockout", "continuous_rate")
_LIMIT = tuple(name for limit in LIMITS for name in limit)
_BOLUS = ("staff_bolus_dose", "staff_bolus_interval", "staff_bolus_most", "staff_bolus_window")
_CARRIER = ("carrier_fluid", "carrier_rate")

_WITH_AMOUNT = AskedWhen(field="strength", among=(AMOUNT_IN_VOLUME,))
# A mode does not make a dose or a rate idle: one that does not fit the mode is a finding.
_WITH_DEMANDS = AskedWhen(field="mode", among=MODES_WITH_DEMANDS, else_idle=False)
_WITH_CONTINUOUS = AskedWhen(field="mode", among=MODES_WITH_CONTINUOUS, else_idle=False)


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
# A device may take its doses in mL.
_dose = partial(_setting, judged_by=_ENGINE, measure=MASS, measure_in={Source.DEVICE: MASS_OR_VOLUME})
_bolus = partial(
    Field,
    sources=(Source.ORDER,),
    form=Form.QUANTITY,
    judged_by=_ENGINE,
    read_with=_BOLUS,
    row="staff_bolus_dose",
    asked_when=AskedWhen(field="staff_bolus_dose", while_blank=False),
)
_switch = partial(
    Field, sources=(Source.MONITOR,), form=Form.CHOICE, judged_by=_ENGINE, choices=("on", "off")
)
_alarm = partial(Field, sources=(Source.MONITOR,), form=Form.QUANTITY, judged_by=_ENGINE, none="None set")


def _further_limit(number: int, word: str, *, beyond: str) -> tuple[Field, Field]:
    """A limit for a longer stretch of time, where there is one before it."""
    amount = f"limit_{number}_amount"
    return (
        _dose(
            name=amount,
            label=f"{word.capitalize()} limit",
            words=f"the {word} limit",
            optional=True,
            asked_when=AskedWhen(field=beyond, while_blank=False),
            read_with=_LIMIT,
            row="limit_amount",
            found_as=f"limit.{number}.amount",
            hint="Only if there is one, for a longer stretch of time.",
        ),
        _setting(
            name=f"limit_{number}_window",
            label=f"Time window of the {word} limit",
            words=f"the time window of the {word} limit",
            judged_by=_ENGINE,
            measure=WINDOW,
            asked_when=AskedWhen(field=amount, while_blank=False),
            read_with=_LIMIT,
            row="limit_amount",
            found_as=f"limit.{number}.window",
            hint=f"Only when there is a {word} limit.",
        ),
    )


TABLE: tuple[Field, ...] = (
    *PATIENT_ROWS,
    ORDER_NUMBER,
    PRESCRIBER,
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
        choices_in={
            Source.ORDER: (AMOUNT_IN_VOLUME, PER_MILLILITRE, STATES_NONE),
            # Such a device runs at the concentration of whatever syringe is on it.
            Source.DEVICE: (AMOUNT_IN_VOLUME, PER_MILLILITRE, IN_MILLILITRES),
        },
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
    Field(
        name="content_volume",
        label="Volume in the syringe",
        words="the volume in the syringe, where the label gives a concentration",
        sources=(Source.LABEL,),
        form=Form.QUANTITY,
        # To the engine a label has an amount in a volume or a concentration, not both.
        judged_by=(JudgedBy.READ_ALIKE,),
        measure=VOLUME,
        asked_when=AskedWhen(field="strength", among=(PER_MILLILITRE,), while_blank=False),
        row="concentration",
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
    _dose(
        name="demand_dose",
        label="Demand dose",
        words="the demand dose",
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
        measure_in={Source.DEVICE: RATE_IN_MASS_OR_VOLUME},
        none="No continuous rate",
        asked_when=_WITH_CONTINUOUS,
        last_look=True,
        hint="Only when the mode has a continuous part.",
    ),
    _dose(
        name="limit_amount",
        label="Limit",
        words="the limit",
        none="No limit",
        read_with=_LIMIT,
        found_as="limit.amount",
        last_look=True,
        hint="The most that may be given in a stretch of time; of several, the shortest first.",
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
    *_further_limit(2, "second", beyond="limit_amount"),
    *_further_limit(3, "third", beyond="limit_2_amount"),
    _dose(
        name="loading_dose",
        label="Loading dose",
        words="the loading dose",
        none="No loading dose",
    ),
    Field(
        name="staff_bolus_dose",
        label="Bolus given by staff",
        words="the bolus given by staff",
        sources=(Source.ORDER,),
        form=Form.QUANTITY,
        judged_by=_ENGINE,
        measure=MASS,
        none="None ordered",
        optional=True,
        read_with=_BOLUS,
        found_as="staff_bolus.dose",
        hint="Only if the order has one.",
    ),
    _bolus(
        name="staff_bolus_interval",
        label="Shortest time between them",
        words="the shortest time between boluses given by staff",
        measure=LOCKOUT,
        found_as="staff_bolus.interval",
    ),
    _bolus(
        name="staff_bolus_most",
        label="Most given by staff",
        words="the most that staff may give",
        measure=MASS,
        found_as="staff_bolus.most",
    ),
    _bolus(
        name="staff_bolus_window",
        label="Time window of what staff may give",
        words="the time window of what staff may give",
        measure=WINDOW,
        found_as="staff_bolus.window",
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
    *LABEL_ROWS,
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
    DEVICE_SERIAL,
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
        label="Apnea alarm delay",
        words="the apnea alarm delay",
        measure=APNEA_TIME,
        hint="How long without a breath until it alarms.",
    ),
    *TOTALS_ROWS,
    *BEDSIDE_ROWS,
)
