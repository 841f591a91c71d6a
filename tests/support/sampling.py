"""What takes over a minute: every run takes a sample of it, always the same; `poe long` takes the whole."""

import os
from collections.abc import Collection
from itertools import islice
from typing import TypeVar

_Case = TypeVar("_Case")
IS_WHOLE = os.environ.get("COUNTERSIGN_TESTS") == "whole"


def examples(*, sample: int, whole: int) -> int:
    """How many examples a run draws; which they are does not change from run to run."""
    return whole if IS_WHOLE else sample


def cases(every: Collection[_Case], *, one_in: int) -> list[_Case]:
    """These cases, or in the sample every second, third and so on, beginning with the first."""
    return list(every) if IS_WHOLE else list(islice(every, 0, None, one_in))
