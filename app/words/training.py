"""The words of checks on training cards."""

from math import floor

from app.review.competency import Competency, Trained
from app.words.checking import spell
from app.words.errors import ERRORS

OWN_MEANING = "I did these checks myself, and read the cards without the other's reading."
TRAINER_MEANING = "I went through this record with the person whose it is."


def wrong_words(line: Trained) -> str:
    """What was wrong on the cards."""
    return ERRORS[line.error] if line.error else "Nothing was wrong"


def caught_words(line: Trained) -> str:
    """Whether what was wrong was caught by the own reading 1 alone."""
    if line.caught is None:
        return "Not compared" if line.error else "Nothing to catch"
    return "Caught" if line.caught else "Not caught"


def took_words(line: Trained) -> str:
    """How long the own reading 1 took."""
    return "Not handed in" if line.seconds is None else spell(line.seconds)


def caught_of_words(of: Competency) -> str:
    """What was caught of what could be."""
    if of.caught is None:
        return "No set with something wrong was compared yet."
    return f"{of.caught.count} of {of.caught.of} caught"


def median_time_words(of: Competency) -> str:
    """The same time alone, where there is room for no more."""
    return spell(floor(of.took.median)) if of.took else "Not handed in"


def median_words(of: Competency) -> str:
    """How long reading 1 takes in the middle."""
    if of.took is None:
        return "No reading 1 was handed in yet."
    took, several = median_time_words(of), of.took.count > 1
    return f"Reading 1 took {took}{', the middle of all' if several else ''}, from joining to the hand-in."
