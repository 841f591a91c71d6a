"""The review of findings in words: what was done with one, what error it was, and what contributed."""

from collections.abc import Collection

from app.records.followup import Severity
from app.records.kept_reviews import ASSIGNED, COMMENTED, REVIEWED
from app.records.kept_rows import FindingReached
from app.records.reached import Reached, ReviewState

DONE: dict[str, str] = {REVIEWED: "Looked through", ASSIGNED: "Given to", COMMENTED: "Written beside it"}

# How far its review has come, in the list.
STATES: dict[str, str] = {
    ReviewState.NOT_REVIEWED: "Not looked through yet",
    ReviewState.REVIEWED: "Looked through",
    ReviewState.GIVEN_TO_ME: "Given to me, and still to be looked through",
    ReviewState.GIVEN: "Given to somebody, and still to be looked through",
    ReviewState.CLASSIFIED_ONCE: "Classified by one person",
    ReviewState.CLASSIFIED_TWICE: "Classified by two people",
    ReviewState.CLASSIFIED_APART: "Classified by two who do not agree",
}

# What is to be classified, beside the samples.
WHILE_IT_RAN = "Found while PCA ran"

# Our own short gloss: the text of the index is the council's, which permits it whole and with its notice.
CATEGORIES: dict[str, str] = {
    "A": "A: no error yet, but it could lead to one",
    "B": "B: an error that did not reach the patient",
    "C": "C: reached the patient, no harm",
    "D": "D: reached the patient, who was watched or treated so that no harm came",
    "E": "E: harm for a time, which was treated",
    "F": "F: harm for a time, and a longer stay",
    "G": "G: harm that lasts",
    "H": "H: breathing or heart had to be supported",
    "I": "I: may have contributed to death",
}
INDEX = (
    "Letters of the index for categorizing medication errors of the National Coordinating Council for "
    "Medication Error Reporting and Prevention (NCC MERP), each with a short gloss of our own: the index "
    "itself says more."
)

READERS: dict[str, str] = {
    "": "Nobody misread: source, order or device was wrong, or nothing was",
    "A": "The first nurse misread it",
    "B": "The second nurse misread it",
    "AB": "Both misread it",
}

FACTORS: dict[str, str] = {
    "interrupted": "Interrupted",
    "alike-names": "Names that look or sound alike",
    "alike-packs": "Labels or syringes that look alike",
    "order-unclear": "An order that is hard to read or unclear",
    "other-unit": "Another unit of measure than usual",
    "new-device": "A device that is not known well",
    "not-trained": "Not trained for it",
    "hurry": "Hurry",
    "handover": "Lost at a handoff or a transfer",
    "tired": "Tired, or a long shift",
    "other": "Something else",
}


def reached_words(reached: Collection[FindingReached], severity: str, person: str) -> str:
    """How far the review of a finding has come, for whoever looks; what is for information need have none."""
    states = {each.state for each in reached}
    if not states and severity == Severity.NOTE:
        return ""
    said = ["Looked through"] if Reached.REVIEWED in states else ["Not looked through yet"]
    if any(each.state == Reached.GIVEN_TO and each.person == person for each in reached):
        said.append("given to you")
    elif Reached.GIVEN in states:
        said.append("given to somebody")
    if Reached.CLASSIFIED_APART in states:
        said.append("classified by two who do not agree")
    elif Reached.CLASSIFIED_TWICE in states:
        said.append("classified by two")
    elif Reached.CLASSIFIED in states:
        said.append("classified by one")
    return ", ".join(said)


def your_part_words(reached: Collection[FindingReached]) -> str:
    """As whom somebody classifies what waits for them."""
    if any(each.state == Reached.CLASSIFIED for each in reached):
        return "One person has classified it: you would be the second, and are not told what they said"
    return "You would be the first to classify it"
