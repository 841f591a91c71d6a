"""What each kind of error is called, in the study, on training cards and in the record of them."""

from collections.abc import Mapping

from app.review.errors import Error

ERRORS: Mapping[Error, str] = {
    Error.DEVICE_STRENGTH: "Device set to another strength",
    Error.TENFOLD: "Demand dose ten times too high or low",
    Error.DIGITS: "Wrong digits in the demand dose",
    Error.UNIT: "mg for mcg, or the reverse",
    Error.LOCKOUT: "Wrong digits in the lockout",
    Error.LIMIT: "Limit not set, or ten times too high",
    Error.CONTINUOUS: "Continuous part that is not ordered",
    Error.LEFT_OUT: "Ordered loading dose left out",
    Error.SYRINGE_SIZE: "Other syringe size chosen",
    Error.DRUG: "Syringe of another drug",
    Error.STRENGTH: "Syringe of another strength",
    Error.PATIENT: "Syringe of another patient",
    Error.MONITORING: "Monitoring not switched on",
    Error.ORDERED_DOSE: "Dose ordered ten times too high",
    Error.LINE: "Line joined at the wrong place",
    Error.LABEL_ITSELF: "Label that is itself wrong",
}
