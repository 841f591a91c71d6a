"""What is said of a drug that was taken back, on the screens and on paper alike."""

from app.quantities import set_off
from app.records.taken_back import IN_LINE, IN_SYRINGE, RETURNED, WASTED

WAYS: dict[str, str] = {WASTED: "Wasted", RETURNED: "Returned to the pharmacy"}
HELD_IN: dict[str, str] = {IN_SYRINGE: "in the syringe that was replaced", IN_LINE: "in its line"}


def taken_back_words(  # noqa: PLR0913  # each is said
    *, held_in: str, way: str, typed: str, lot: str, witness: str, received: bool, stated: str, stands: bool
) -> str:
    """How much was left where, what became of it and when, and who saw it; `stated` is the time in words."""
    seen = "taken by the pharmacist" if received else "witnessed by"
    again = "" if stands else " Counts no longer: it was written anew."
    became = f"{WAYS[way].lower()}{f' on {stated}' if stated else ''}"
    return f"{set_off(typed)} {HELD_IN[held_in]}: {became}, {seen} {witness}. Lot {lot}.{again}"
