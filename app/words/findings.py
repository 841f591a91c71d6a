"""What findings are sorted by in their list, in words."""

from app.comparison.wording import SLIPS, capitalised
from app.records.independence import Grade
from app.records.kept import PRIMING
from app.words.independence import independence_words
from app.words.names import ACT_NOW, SETTLE, SEVERITIES, round_words

# Where it arose, as far as the readings tell.
ORIGINS: dict[str, str] = {
    "reading": "What was read",
    "order": "The order",
    "supply": "Syringe or label",
    "programming": "How the device was set",
}

SLIP_CHOICES: dict[str, str] = {slip: capitalised(words) for slip, words in SLIPS.items()}

GRADES: dict[str, str] = {
    **{grade.code: capitalised(independence_words({"grade": grade})) for grade in Grade},
    # A pair of readings is reading 1, 2 and so on: this is of one of the two.
    Grade.QUICK_SECOND.code: "One after the other, the later in under a minute",
}


# A stop is called so before a start, while PCA runs, and of the account.
SEVERITY_CHOICES: dict[str, str] = {**SEVERITIES, "stop": f"{SEVERITIES['stop']}, {ACT_NOW}, {SETTLE}"}


def found_in_words(subject: str, number: int) -> str:
    """In which pair of readings something was found, or that it was found at priming."""
    return "primed volume" if subject == PRIMING else round_words(number)
