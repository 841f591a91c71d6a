"""An order from another system, beside what two read: it stands as the order of record, or it is unclear.

Only where two read an order, and only once both have agreed whose it is.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from app.comparison.wording import listed
from app.judging.findings import caution
from app.records.case import settings
from app.records.field_table import MODES_WITH_CONTINUOUS, MODES_WITH_DEMANDS
from app.records.followup import Found
from app.records.known import Known
from app.records.order_dosage import limits_of, with_windows_of
from app.records.reading import Answers
from app.records.sources import Source


def with_order_on_record(known: Known, read: Answers) -> Known:
    """What is known, with the one order that another system sent as the order of record.

    As far as it states anything; the rest is still what was read of the order before. Of a time window that
    was read and that it does not state it says nothing.
    """
    if len(known.orders) != 1:
        return known
    (one,) = known.orders
    windows = limits_of(settings(Source.ORDER, read.get(Source.ORDER, {})))
    stated = with_windows_of(one.settings, windows)
    before = {
        key: value for key, value in known.order_of_record.items() if key not in _said_otherwise(stated)
    }
    return replace(known, order_of_record={**before, **stated})


def _said_otherwise(stated: Mapping[str, Any]) -> frozenset[str]:
    """What else of an order does not stand any more beside what is stated."""
    gone: set[str] = set()
    if "concentration" in stated:
        gone |= {"amount", "volume"}
    mode = stated.get("mode")
    if mode is not None and mode not in MODES_WITH_DEMANDS:
        gone |= {"demand_dose", "lockout"}
    if mode is not None and mode not in MODES_WITH_CONTINUOUS:
        gone.add("continuous_rate")
    return frozenset(gone)


def orders_unclear(known: Known) -> Iterator[Found]:
    """A caution where another system has more than one order for this patient to be carried out."""
    if len(known.orders) > 1:
        named = listed([each.words for each in known.orders])
        yield caution(
            code="orders-unclear",
            field="patient",
            readings={},
            says=(
                f"Other systems have {len(known.orders)} active orders for this patient, "
                f"and none of them was compared with what was read. They are {named}."
            ),
        )
