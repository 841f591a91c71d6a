"""One disagreement at a time, for the tests of slips and factors."""

from collections.abc import Mapping

from app.comparison import Finding
from tests.comparison.builders import result_of

BOTH = {"AB.settings.mode": "demand-and-continuous", "AB.settings.continuous_rate": "0.5 mg/h"}


def set_otherwise(field: str, ordered: str, device: str) -> dict[str, object]:
    """Everybody reads one value in the order and another on the device."""
    path = "limit" if field.startswith("limit.") else field
    if path == "limit":
        name = field.removeprefix("limit.")
        limit = {"amount": "60 mg", "window": "4 h"}
        return {
            "AB.order.limit": {**limit, name: ordered},
            "AB.device.limit": {**limit, name: device},
        }
    return {f"AB.order.{path}": ordered, f"AB.device.{path}": device}


def disagreement(changes: Mapping[str, object], field: str) -> Finding:
    """The finding about a field among the first five codes."""
    [finding] = [
        each for each in result_of(changes).findings if each.field == field and each.origin is not None
    ]
    return finding
