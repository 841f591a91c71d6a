"""A patient's identifier as it was read: whether it can be one, and whether two are one patient's."""

from app.comparison.readings import find_identifier
from app.comparison.source_values import SHORTEST_END
from app.quantities import Fault


def is_patient(read: str, agreed: str) -> bool:
    """Whether two identifiers are one patient's, in the one form in which wristbands are compared."""
    one, other = find_identifier(read), find_identifier(agreed)
    return one is not None and other is not None and one.names_who(other)


def identifier_fault(text: str, *, by_its_end: bool) -> Fault | None:
    """Why a text is no identifier, if so; some papers give it by its end, after a star."""
    identifier = find_identifier(text)
    if identifier is None:
        return Fault(code="blank", says="Write the identifier as it is printed.")
    if not identifier.is_end:
        return None
    if not by_its_end:
        return Fault(code="partial-identifier", says="Write the whole identifier, as the wristband has it.")
    if len(identifier.value) < SHORTEST_END:
        says = f"After the star write at least its last {SHORTEST_END} characters."
        return Fault(code="partial-identifier", says=says)
    return None


def compared_identifier(text: str) -> str:
    """An identifier in the form in which identifiers are compared; blank where it is none, or not whole."""
    identifier = find_identifier(text)
    return "" if identifier is None or identifier.is_end else identifier.value
