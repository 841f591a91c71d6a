"""What the tables of findings are written in."""

NEVER_REFUSES = "note limit-never-refuses limit.amount"
CONCENTRATION_IN_OTHER_WORDS = "note notation-differs concentration"
BOTH = "demand-and-continuous"
LIMIT = {"amount": "10 mg", "window": "4 h"}
TOLERANT = {"patient.opioid_naive": False}
WITH_RATE = {"AB.settings.mode": BOTH, "AB.settings.continuous_rate": "0.5 mg/h", **TOLERANT}
MORPHINE = "library.morphine"

# The changes to a case in which nothing is found, and all that is found then.
Row = tuple[dict[str, object], list[str]]
