"""What both missed, in words: the estimate with its interval, what it assumes, or why there is none."""

from app.review.missed import Missed, NoneAlone, TooFewByBoth

ASSUMES = (
    "The estimate assumes that the two read independently, that every error is as easy to find as any other, "
    "and that what was found was an error. Where one cause misleads both, as a label that looks like "
    "another, it is too low; errors that nobody can find, as a label that is itself wrong, are not in it."
)
CAUGHT = (
    "Caught by a nurse is an error that her readings of the first round alone show: the engine is asked with "
    "her readings for both. Only findings count that a third person has classified, and who misread has not "
    "caught it."
)


def missed_words(found: Missed | TooFewByBoth | NoneAlone) -> str:
    """The estimate in one sentence, or why it is refused."""
    caught = found.caught
    if isinstance(found, Missed):
        least, most = (_rounded(each) for each in (found.interval.low, found.interval.high))
        return (
            f"Of {caught.distinct} errors the first nurse caught {caught.first}, the second {caught.second} "
            f"and both {caught.both}. So neither may have caught {_rounded(float(found.missed))} more "
            f"({least} to {most})."
        )
    if isinstance(found, TooFewByBoth):
        return f"Too few to estimate: both caught {caught.both} errors, and {found.least} are needed."
    return (
        "There is no estimate: one of the two caught nothing that the other did not, so that nothing tells "
        "what the other misses."
    )


def _rounded(value: float) -> str:
    return f"{value:.0f}" if value >= 1 else "fewer than 1"
