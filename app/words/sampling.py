"""The audit of a sample in words: what is asked of each check, and what is answered."""

from app.records.kept_samples import CONFORMS, DEPARTS, NOT_ASSESSABLE

ANSWERS: dict[str, str] = {
    CONFORMS: "Conforms",
    DEPARTS: "Does not conform",
    NOT_ASSESSABLE: "Not assessable",
}
REASONS: dict[str, str] = {
    "not-apart": "The two did not read apart, or one was told what to expect",
    "step-missing": "A safety step was not done, or not by the one who confirmed it",
    "times": "Times do not fit: signed before it was done, or long after",
    "caution": "A caution was passed without a look at the patient or the order",
    "stop": "A stop was settled otherwise than local policy says",
    "chart": "Record and chart do not agree",
    "papers-missing": "Chart or record was not to be found",
    "other": "Other: say it in words",
}
ALL_DRAWN = "All that ended were drawn: the range is that of other days like these."
LOOKED_AT: tuple[str, ...] = (
    "The record of the check: who read, in which order, how independently, and when each signed.",
    "The chart of the same hours: the order, observations, and what was given.",
    "What was found, and how each stop and each caution came to rest.",
    "The two people, if need be: asked apart, and never to blame.",
)
