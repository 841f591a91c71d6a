"""From two clinicians' latest readings to the engine's case (format `countersign.case`)."""

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

from app.records.field_table import STATES_NONE
from app.records.fields import FIELDS
from app.records.formats import CASE
from app.records.known import Known
from app.records.reading import Answers, Scope, sources_in, used
from app.records.sources import CAN_BE_PUT_RIGHT, NONE, JudgedBy, Source

# To the engine a source that says none of these does not give them.
_LEFT_OUT = JudgedBy.NONE_IS_AN_ANSWER
# What must be there whole: a bolus with one part unread is not read.
_BOLUS = frozenset({"dose", "interval", "most", "window"})


def settings(source: Source, answers: Mapping[str, str]) -> dict[str, Any]:
    """SETTINGS of the contract, from an order's or a device's answers."""
    made = _given(source, answers)
    if answers.get("strength") == STATES_NONE:
        made["concentration"] = None
    if "fluid" not in made.get("carrier", {}):
        # A rate without a fluid is no carrier yet.
        made.pop("carrier", None)
    if made.get("staff_bolus") is not None and made["staff_bolus"].keys() != _BOLUS:
        del made["staff_bolus"]
    if made.get("limit") is not None:
        made.update(_limits(made.pop("limit")))
    return made


def _limits(made: Mapping[str, str]) -> dict[str, object]:
    """One limit as far as it was read; more as a list, in which each has its window, or they are not read."""
    read: dict[str, dict[str, str]] = {}
    for key, text in made.items():
        place, _, part = key.rpartition(".")
        read.setdefault(place, {})[part] = text
    if read.keys() == {""}:
        return {"limit": read[""]}
    return {"limit": list(read.values())} if all("window" in each for each in read.values()) else {}


def _given(source: Source, answers: Mapping[str, str]) -> dict[str, Any]:
    """What the engine is told of one source, each field in the place that its name in findings says."""
    counts, made = used(answers), dict[str, Any]()
    for field in FIELDS[source]:
        text = counts.get(field.name)
        if not text or JudgedBy.ENGINE not in field.judged_by or field.name == "strength":
            continue
        key, _, inside = field.finding.partition(".")
        if text != NONE or NONE in field.choices:
            _put(made, key, inside, text)
        elif source in _NONE_INSIDE:
            _put(made, key, inside, None)
        elif _LEFT_OUT not in field.judged_by:
            made[key] = None
    return made


# In the chart and at the monitor *none* is said of one answer; elsewhere of all that stands together.
_NONE_INSIDE = (Source.CHART, Source.MONITOR)


def _put(made: dict[str, Any], key: str, inside: str, text: str | None) -> None:
    if inside:
        made.setdefault(key, {})[inside] = text
    else:
        made[key] = text


def sources_read(scope: Scope) -> tuple[Source, ...]:
    """The engine's sources of what is read: the contract has the monitor among the device's settings.

    Totals are the account's.
    """
    read = {Source.DEVICE if each is Source.MONITOR else each for each in sources_in(scope)}
    return tuple(each for each in CAN_BE_PUT_RIGHT if each in read)


def entry(clinician: str, answers: Answers, read_at: datetime, scope: Scope) -> dict[str, Any]:
    """One clinician's entry of a case; `read_at` is when the reading was handed in."""
    read: dict[Source, dict[str, Any]] = {
        Source.WRISTBAND: {"patient": {}, **_given(Source.WRISTBAND, answers.get("wristband", {}))},
        Source.CHART: {"chart": {}, **_given(Source.CHART, answers.get("chart", {}))},
        Source.ORDER: {"order": settings(Source.ORDER, answers.get("order", {}))},
        Source.LABEL: {"label": _given(Source.LABEL, answers.get("label", {}))},
        Source.DEVICE: {
            "device": {
                **settings(Source.DEVICE, answers.get("device", {})),
                **_given(Source.MONITOR, answers.get("monitor", {})),
            }
        },
    }
    made: dict[str, Any] = {"clinician": clinician, "read_at": read_at.isoformat(timespec="seconds")}
    for source in sources_read(scope):
        made.update(read[source])
    return made


def build_case(
    *,
    entries: tuple[dict[str, Any], dict[str, Any]],
    policy: Mapping[str, Any],
    library: Mapping[str, Any],
    known: Known,
    reads: Scope,
    by_one: Collection[Source] = (),
) -> dict[str, Any]:
    """The whole case, in the contract's order of keys; what the infusion does not know is not there.

    `by_one`: the sources that one of the two alone read.
    """
    told = {
        "patient": known.patient,
        "order_of_record": known.order_of_record,
        "previous": known.previous,
    }
    return {
        "format": CASE.newest,
        "policy": dict(policy),
        "library": dict(library),
        **{key: dict(content) for key, content in told.items() if content},
        "reads": [
            {"is": each.value, "by": "one"} if each in by_one else each.value for each in sources_read(reads)
        ],
        "entries": list(entries),
    }
