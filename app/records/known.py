"""What an infusion knows before a check of it begins: what the engine is told beside the two readings.

Values: nothing of it reaches the two of a check before both have handed in.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, kw_only=True)
class Known:
    """The infusion's patient, the settings in force and the order they were checked against.

    In the words of the engine's contract: `patient` has `identifier` and `birth_date`, `previous` and
    `order_of_record` are SETTINGS. What is not known is not there.
    """

    patient: Mapping[str, str] = field(default_factory=dict)
    previous: Mapping[str, Any] = field(default_factory=dict)
    order_of_record: Mapping[str, Any] = field(default_factory=dict)


NOTHING_KNOWN = Known()
"""Of an infusion's first check."""
