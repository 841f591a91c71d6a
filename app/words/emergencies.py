"""The words for what is done in a hurry, and for what it leaves behind."""

from app.records.custody import Custody
from app.records.emergencies import CODE, DEATH, KEY, NO, OTHER, OVERDOSE, UNKNOWN, YES
from app.records.restarting import BROUGHT_BY, HeldBack, Wants, Why
from app.words.names import named_within

HARMS: dict[str, str] = {OVERDOSE: "Suspected overdose", DEATH: "Death"}
AWAY_FOR: dict[str, str] = {
    "theatre": "Theatre",
    "mri": "MRI",
    "procedure": "A procedure",
    OTHER: "Somewhere else",
}
KEYS: dict[str, str] = {KEY: "The key", CODE: "The code"}
OPIOIDS: dict[str, str] = {
    NO: "None were given",
    YES: "Some were given",
    UNKNOWN: "Nobody here knows",
}

GIVEN_AT = "given_at"
TOLD: dict[str, str] = {
    "agent": "Reversal agent",
    "dose": "Dose",
    "route": "Route",
    GIVEN_AT: "When",
    "response": "How the patient answered to it",
    "holder": "Who holds device and syringe",
    "place": "Where they are locked",
    "left": "Volume left in the syringe",
    "responsible": "Who is responsible meanwhile",
    "told": "Who was told",
    "found": "Where it was seen last",
}

SEALED: dict[str, str] = {
    "seal": "Number of the seal",
    "holder": TOLD["holder"],
    "place": TOLD["place"],
}


def comes_first(wants: Wants | None) -> str:
    """What comes before it is started again."""
    if wants is None:
        return ""
    kind = named_within(BROUGHT_BY[wants].name)
    return f"Before it runs again: a {kind}, by two nurses{_WITH.get(wants, '')}."


_WITH = {
    Wants.NEW_SET: ", with a new set: the line was capped for too long",
    Wants.SYRINGE: ", with a syringe and a new set: none is on the device",
}


SEAL_DIFFERS = (
    "Whoever looked last read another number on the seal than was written: leave it as it is; charge nurse "
    "and the site's investigator look into it."
)


def custody_words(custody: Custody) -> str:
    """What is to be done about who holds what is kept; blank where nothing is."""
    if custody.differs:
        return SEAL_DIFFERS
    if custody.is_received:
        return ""
    if not custody.seal:
        return "To do: lock it, seal it, and write down the number of the seal."
    return "To do: whoever holds it confirms that, by sign-in and the number on the seal; nobody has yet."


KEPT_AS_EVIDENCE = (
    "What is left of this infusion is kept as it is until the site's investigator gives it free: nothing of "
    "it is wasted, returned, cleared or emptied."
)
_OR_END = "If PCA is over here, or another patient lies here, write down its end at the stop first."


def held_back_words(back: HeldBack) -> str:
    """Why a check may not lead to a start now, and what comes first."""
    if back.why is Why.EVIDENCE:
        return (
            "Device, line and syringe of this infusion are kept as they are until the site's "
            f"investigator gives them free. {_OR_END}"
        )
    if back.why is Why.DECISION:
        return (
            "This infusion is held: a reversal agent was given. A prescriber decides first, and the "
            f"decision is written down on the infusion's page. {_OR_END}"
        )
    if back.why is Why.NOT_BACK:
        return (
            "The patient of this infusion is away without PCA: write on the infusion's page that the patient "
            f"is back. {_OR_END}"
        )
    return f"What happened to this infusion asks for a {named_within(back.kind)} first. {_OR_END}"
