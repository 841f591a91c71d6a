"""The findings about readings that do not fit each other: what CONTRACT.md says is read once more."""

RECOUNTED = frozenset(
    {
        "totals-went-back",
        "presses-below-doses",
        "doses-above-possible",
        "totals-above-possible",
        "totals-above-predicted",
        "left-rose",
        "left-below-predicted",
        "left-above-predicted",
        "more-than-left",
        "unexplained",
        "totals-below-predicted",
        "doses-below-boluses",
    }
)
