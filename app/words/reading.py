"""The words of the reading pages: where to look.

No number stands in any of them: an example would tell the reader what to expect.
"""

from app.records.kinds import (
    CLEARING,
    DEVICE_CHANGE,
    END_OF_PCA,
    REPEAT_SET_UP,
    SETTINGS_CHANGE,
    SYRINGE_CHANGE,
    Kind,
)
from app.records.sources import Source

GUIDES: dict[Source, str] = {
    Source.WRISTBAND: "At the patient: read the band on the wrist. Ask a patient who can answer.",
    Source.CHART: "In the patient's chart: read it now, not from memory and not from a colleague.",
    Source.ORDER: "From the signed order that is current now.",
    Source.LABEL: "From the syringe in the hand. Read what the label says, not what was ordered.",
    Source.DEVICE: "From the device's own screens at the bedside. Read what is set, not what was ordered.",
    Source.MONITOR: "Read at the patient: what is connected, switched on and set now.",
    Source.TOTALS: "From the device and the barrel, now and in one go: the device runs on while you read.",
    Source.BEDSIDE: "At the patient: watch the breathing before you speak, then follow the line by hand.",
}

# Where each is seen, for whoever is about to read.
SEEN_AT: dict[Source, str] = {
    Source.WRISTBAND: "the patient",
    Source.CHART: "the chart",
    Source.ORDER: "the order",
    Source.LABEL: "the syringe",
    Source.DEVICE: "the device",
    Source.MONITOR: "the monitor",
    Source.TOTALS: "the device's totals",
    Source.BEDSIDE: "the line",
}

SCAN_HINTS: dict[Source, str] = {
    Source.LABEL: "Scan or paste the code: it fills in lot, use by and code. No scanner: write them below.",
    Source.WRISTBAND: "Scan or paste the code: it fills in the identifier. No scanner: write it below.",
}

# What comes before a source is read, in a check in which something is changed; where the device stands, its
# totals stand too.
_OLD_SYRINGE = (
    "First pause the device, and take the line off the patient or clamp it there. "
    "Then read this, before the syringe is released."
)
FIRST: dict[tuple[str, Source], str] = {
    (SETTINGS_CHANGE.name, Source.WRISTBAND): "First pause the device: nothing is set while it runs.",
    (SETTINGS_CHANGE.name, Source.DEVICE): "First set what the new order says; then each reads it, alone.",
    (SYRINGE_CHANGE.name, Source.TOTALS): _OLD_SYRINGE,
    (
        SYRINGE_CHANGE.name,
        Source.LABEL,
    ): "Now the next syringe, once both have read what the old one left.",
    (SYRINGE_CHANGE.name, Source.DEVICE): "With the next syringe in it.",
    (REPEAT_SET_UP.name, Source.TOTALS): (
        "First take the line off the patient, or clamp it there. Then read this, before the syringe is "
        "released or anything is cleared. Where a total is not shown any more, choose Not shown."
    ),
    (REPEAT_SET_UP.name, Source.LABEL): (
        "Of the syringe that will run: a new one, or the one that was on, read once more."
    ),
    (DEVICE_CHANGE.name, Source.TOTALS): _OLD_SYRINGE,
    (DEVICE_CHANGE.name, Source.DEVICE): "The device that is used now, with the syringe in it.",
    (CLEARING.name, Source.TOTALS): "First pause the device. Then read this, before anything is cleared.",
    (END_OF_PCA.name, Source.TOTALS): (
        "First stop the device, and take the line off the patient or clamp it there. "
        "Then read this: nothing is cleared, and the syringe stays on."
    ),
}

# Whose totals are meant, for whoever reads them again when the new one is there.
_OLD: dict[str, str] = {
    SYRINGE_CHANGE.name: "What was left is that of the old syringe.",
    DEVICE_CHANGE.name: "These are the totals of the old device.",
    REPEAT_SET_UP.name: "These are the totals of what ran before, and what was left in its syringe.",
}


def guide_words(kind: Kind, source: Source) -> str:
    """Where to look."""
    stands = not kind.is_running and source is Source.TOTALS
    return "From the device and the barrel, in one go." if stands else GUIDES[source]


def first_words(kind: Kind, source: Source) -> str:
    """What comes before this source is read; blank where nothing does."""
    return FIRST.get((kind.name, source), "")


def again_words(kind: Kind, source: Source, why: str) -> str:
    """Why a source is read again, and of which syringe or device, where there are two by now."""
    old = _OLD.get(kind.name, "") if source is Source.TOTALS else ""
    return f"{why} {old}".rstrip()
