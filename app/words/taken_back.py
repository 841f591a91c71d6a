"""What is said of a drug that was taken back, on the screens and on paper alike."""

from app.quantities import set_off
from app.records.taken_back import IN_LINE, IN_SYRINGE, RETURNED, WASTED

WAYS: dict[str, str] = {WASTED: "Wasted", RETURNED: "Returned to the pharmacy"}
HELD_IN: dict[str, str] = {IN_SYRINGE: "in the syringe that was replaced", IN_LINE: "in its line"}


def taken_back_words(  # each is said
    *, held_in: str, way: str, typed: str, lot: str, witness: str, received: bool, stands: bool
) -> str:
    """How much was left where, what became of it, and who saw it."""
    seen = "taken by the pharmacist" if received else "witnessed by"
    again = "" if stands else " Counts no longer: it was written anew."
    return f"{set_off(typed)} {HELD_IN[held_in]}: {WAYS[way].lower()}, {seen} {witness}. Lot {lot}.{again}"
