"""What can be put right after a comparison, and what is likely to be."""

from dataclasses import dataclass

from app.records.followup import Follow
from app.records.sources import Source
from app.records.state import CheckState
from app.words.checking import (
    ANOTHER_DRUG,
    ANOTHER_STRENGTH,
    ANOTHER_SYRINGE,
    SETTLED_THERE,
    put_right_words,
)

# Which source the usual correction touches; where a code is missing, the two say it themselves.
_LIKELY: dict[str, Source] = {
    "order-differs-from-record": Source.ORDER,
    "label-differs": Source.LABEL,
    "device-differs": Source.DEVICE,
    "runs-elsewhere": Source.WRISTBAND,
    "bed-still-runs": Source.WRISTBAND,
    "mode-conflict": Source.DEVICE,
    "limit-below-dose": Source.DEVICE,
    "limit-below-continuous": Source.DEVICE,
    "limit-blocks-demands": Source.DEVICE,
    "label-expired": Source.LABEL,
    "label-over-barrel": Source.LABEL,
    "issued-elsewhere": Source.LABEL,
    "part-used-not-of-this": Source.LABEL,
    "part-used-too-long": Source.LABEL,
    "issued-unsealed": Source.LABEL,
    "order-not-current": Source.ORDER,
    "order-not-verified": Source.CHART,
    "monitoring-off": Source.MONITOR,
    "alarm-outside-bounds": Source.MONITOR,
    "alarm-not-set": Source.MONITOR,
    "syringe-size-differs": Source.DEVICE,
}


_OF_STRENGTH = frozenset({"concentration", "amount", "volume"})
# What is settled where the other infusion runs.
_ELSEWHERE = frozenset({"runs-elsewhere", "bed-still-runs"})


@dataclass(frozen=True, kw_only=True)
class PutRight:
    """What can be put right: the one likely thing, if there is one, and all.

    `instead` says what is done where that is not put right in a check of this kind, blank where it is.
    """

    likely: tuple[str, str] | None
    all: tuple[tuple[str, str], ...]
    instead: str = ""


def put_right(state: CheckState) -> PutRight:
    """What the two may say of the stops that are open."""
    # What breaks a rule besides is gone with what it broke it by, or is found again.
    stops = [each for each in state.open_stops if each.follow is not Follow.RULE or each.code in _LIKELY]
    likely = {_LIKELY.get(each.code) for each in stops}
    only = next(iter(likely)) if len(likely) == 1 else None
    only = only if only in state.kind.put_right else None
    return PutRight(
        likely=None if only is None else (only.value, _likely_words(state, only)),
        all=tuple((source.value, put_right_words(source.value)) for source in state.kind.put_right),
        instead=_instead(state),
    )


def _instead(state: CheckState) -> str:
    """What is done about a syringe that no change of what runs can put right."""
    if not state.kind.changes:
        return ""
    wrong = {each.field for each in state.open_stops if each.code == "label-differs"}
    if "drug" in wrong:
        return ANOTHER_DRUG
    if wrong & _OF_STRENGTH:
        return ANOTHER_STRENGTH
    expired = any(each.code == "label-expired" for each in state.open_stops)
    return "" if Source.LABEL in state.kind.put_right or not (wrong or expired) else ANOTHER_SYRINGE


def _likely_words(state: CheckState, source: Source) -> str:
    """What was done: of what runs elsewhere it was done there, and the wristband is the same."""
    is_elsewhere = all(each.code in _ELSEWHERE for each in state.open_stops)
    return SETTLED_THERE if is_elsewhere else put_right_words(source.value)
