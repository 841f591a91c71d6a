"""What takes over a minute: every run takes a sample of it, always the same; `poe long` takes the whole."""

import os

IS_WHOLE = os.environ.get("COUNTERSIGN_TESTS") == "whole"


def examples(*, sample: int, whole: int) -> int:
    """How many examples a run draws; which they are does not change from run to run."""
    return whole if IS_WHOLE else sample
