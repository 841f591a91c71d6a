"""What the tables of findings are written in."""

BOTH = "demand-and-continuous"
LIMIT = {"amount": "10 mg", "window": "4 h"}
TOLERANT = {"AB.chart.opioid_tolerant": "yes"}
WITH_RATE = {"AB.settings.mode": BOTH, "AB.settings.continuous_rate": "0.5 mg/h", **TOLERANT}
MORPHINE = "library.morphine"

# The changes to a case in which nothing is found, and all that is found then.
Row = tuple[dict[str, object], list[str]]
