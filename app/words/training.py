"""The words of checks on training cards."""

from math import floor

from app.review.competency import Competency, Trained
from app.words.checking import spell
from app.words.study import share_with_interval


def caught_words(line: Trained) -> str:
    """Whether what was wrong was caught by the own reading 1 alone."""
    if line.caught is None:
        return "Not compared" if line.wrong else "Nothing to catch"
    return "Caught" if line.caught else "Not caught"


def took_words(line: Trained) -> str:
    """How long the own reading 1 took."""
    return "Not handed in" if line.seconds is None else spell(line.seconds)


def caught_share_words(of: Competency) -> str:
    """What was caught of what could be, with its interval."""
    if of.caught is None:
        return "No set with something wrong was compared yet."
    share = of.caught
    return (
        f"{share.count} of {share.of} caught, {share_with_interval(share.count, share.of)}, "
        "95\N{NO-BREAK SPACE}% interval: of few sets it is wide."
    )


def median_words(of: Competency) -> str:
    """How long reading 1 takes in the middle."""
    if of.took is None:
        return "No reading 1 was handed in yet."
    return f"{spell(floor(of.took.median))} in the middle, from joining to the hand-in of reading 1."
