"""An order from another system, and the check of its patient: when it is compared, and when it is not."""

from datetime import timedelta
from typing import Any

import pytest

from app.auditing.verifying_store import Wanted, verify_store
from app.records.kept import SOURCES
from app.records.order_message import read_kept
from app.records.state import Phase
from app.records.store_verification import Failing
from app.storage import Transaction
from app.workflow import comparing
from app.workflow.order_senders import revoke_sender
from tests.factories.answers import answers, changed
from tests.factories.orders import Json, as_both_read
from tests.story.orders import let_in, sends
from tests.story.people import NADIA, TOMAS
from tests.story.ward import Ward
from tests.support.policies import publish_policy

SAME, OTHER_DOSE = as_both_read(), as_both_read(dose=0.4)
DIFFERS = ("order-differs-from-record", "demand_dose")
LATER = "2031-05-02T12:00:00+02:00"


@pytest.fixture
def token(one_ward: Ward) -> str:
    return let_in(one_ward.site, one_ward.wait().now)


def read_by_both(ward: Ward) -> Ward:
    """Both have joined, read the same of one patient, and it is compared."""
    return ward.opens(bed="12").joins().both_read(READ).compares()


READ = answers()


def revised(order: Json, **changes: Any) -> Json:  # noqa: ANN401  # any JSON value
    return {**order, "meta": {"lastUpdated": LATER}, **changes}


def told(ward: Ward, check: str = "") -> list[dict[str, str]]:
    """The orders that the last comparison names."""
    with ward.site.store.read() as reader:
        of_sources = [each for each in reader.comparisons(check or ward.check) if each.subject == SOURCES]
    return list(of_sources[-1].told["orders"])


def found(ward: Ward) -> set[tuple[str, str]]:
    return {(each.code, each.field) for each in ward.state().findings} & {
        DIFFERS,
        ("orders-unclear", "patient"),
    }


def failing(ward: Ward) -> list[Failing]:
    steps = verify_store(ward.site, ward.now + timedelta(minutes=1), Wanted(pages=False))
    assert not hasattr(steps, "why")
    return [each for each in steps if isinstance(each, Failing)]


def test_it_is_the_third_source_of_its_patients_check_and_stays_so_whatever_comes_later(ward: Ward) -> None:
    token = let_in(ward.site, ward.wait().now)
    sends(ward.site, ward.wait().now, token, SAME)
    came = ward.now
    sends(ward.site, ward.wait().now, token, as_both_read("DM-77777", named="B-1"))
    read_by_both(ward)
    (named,) = told(ward)
    assert (named["order"], named["sender"]) == ("urn:example:orders|A-1001", "Orders of the house")
    assert named["received_at"] == came.isoformat(timespec="seconds")
    assert found(ward) == set()
    ward.confirms_all().both_sign()
    # The order ends, and its sender is let in no more: what was compared was compared.
    sends(ward.site, ward.wait().now, token, revised(SAME, status="stopped"))
    revoke_sender(ward.site, ward.wait().now, by="operator", name=named["sender"])
    assert failing(ward) == []


@pytest.mark.parametrize("written", ["dm-40417", "DM 40417", "DM\N{EN DASH}40417"])
def test_however_the_identifier_is_written(one_ward: Ward, token: str, written: str) -> None:
    sends(one_ward.site, one_ward.wait().now, token, as_both_read(written, dose=0.4))
    assert found(read_by_both(one_ward)) == {DIFFERS}


def test_an_order_that_comes_between_the_two_hand_ins_is_compared(one_ward: Ward, token: str) -> None:
    one_ward.opens(bed="12").joins().reads(NADIA, READ)
    sends(one_ward.site, one_ward.wait().now, token, OTHER_DOSE)
    one_ward.reads(TOMAS, READ).compares()
    assert found(one_ward) == {DIFFERS}


def test_one_that_comes_after_the_comparison_is_read_by_the_next(one_ward: Ward, token: str) -> None:
    read_by_both(one_ward)
    sends(one_ward.site, one_ward.wait().now, token, OTHER_DOSE)
    assert (told(one_ward), found(one_ward)) == ([], set())
    one_ward.confirms_all().both_sign().both_look().starts()
    one_ward.re_checks().both_read(READ).compares()
    assert len(told(one_ward)) == 1
    assert DIFFERS in found(one_ward)
    assert failing(one_ward) == []


def test_while_they_do_not_agree_whose_it_is_nothing_is_looked_for(one_ward: Ward, token: str) -> None:
    sends(one_ward.site, one_ward.wait().now, token, OTHER_DOSE)
    other = changed(READ, wristband={"identifier": "DM-40418"})
    one_ward.opens(bed="12").joins().both_read(READ, other).compares()
    assert (told(one_ward), found(one_ward)) == ([], set())


@pytest.mark.parametrize(
    ("later", "compared"),
    [
        # A new version, in whichever order the two come.
        ((revised(OTHER_DOSE),), {DIFFERS}),
        ((revised(OTHER_DOSE), SAME), {DIFFERS}),
        ((revised(SAME, status="stopped"),), set()),
        ((revised(SAME, status="entered-in-error"), OTHER_DOSE), set()),
        ((revised(as_both_read("DM-77777", dose=0.4)),), set()),
        ((as_both_read(named="A-1002"),), {("orders-unclear", "patient")}),
        ((as_both_read(named="A-1002"), revised(as_both_read(named="A-1002"), status="on-hold")), set()),
    ],
)
def test_the_newest_version_of_each_order_counts(
    one_ward: Ward, token: str, later: tuple[Json, ...], compared: set[tuple[str, str]]
) -> None:
    for each in (SAME, *later):
        sends(one_ward.site, one_ward.wait().now, token, each)
    assert found(read_by_both(one_ward)) == compared


def test_two_active_orders_are_a_caution_that_both_acknowledge(one_ward: Ward, token: str) -> None:
    for each in (OTHER_DOSE, as_both_read(named="A-1002")):
        sends(one_ward.site, one_ward.wait().now, token, each)
    read_by_both(one_ward)
    assert len(told(one_ward)) == 2
    assert one_ward.state().phase is Phase.AGREED
    for who in (NADIA, TOMAS):
        one_ward.acknowledges(who, "orders-unclear")
    assert one_ward.state().phase is Phase.STEPS
    one_ward.confirms_all()
    assert failing(one_ward) == []


def test_an_order_counts_for_as_long_as_the_policy_says(one_ward: Ward, token: str) -> None:
    publish_policy(one_ward.site, one_ward.wait().now, orders={"count_for_hours": 2})
    sends(one_ward.site, one_ward.wait().now, token, SAME)
    one_ward.now += timedelta(hours=3)
    assert told(read_by_both(one_ward)) == []


def test_nothing_counts_of_a_sender_that_was_revoked(one_ward: Ward, token: str) -> None:
    sends(one_ward.site, one_ward.wait().now, token, SAME)
    revoke_sender(one_ward.site, one_ward.wait().now, by="operator", name="Orders of the house")
    assert told(read_by_both(one_ward)) == []


def test_what_comes_while_it_is_compared_is_looked_for_once_more(
    one_ward: Ward, token: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From its own entry in the log on nothing can come between."""
    sends(one_ward.site, one_ward.wait().now, token, SAME)
    one_ward.opens(bed="12").joins().both_read(READ)
    before: list[int] = []
    make = comparing.make_comparison

    def noting(*args: Any, **named: Any) -> Any:  # noqa: ANN401  # of any function
        before.append(named["before"])
        return make(*args, **named)

    whole = Transaction.head
    monkeypatch.setattr(comparing, "make_comparison", noting)
    monkeypatch.setattr(Transaction, "head", lambda tx: whole(tx) - 1)
    one_ward.compares()
    assert before == [before[0], before[0] + 1]
    monkeypatch.undo()
    assert failing(one_ward) == []


def test_what_was_read_of_a_message_is_kept_beside_it(one_ward: Ward, token: str) -> None:
    sends(one_ward.site, one_ward.wait().now, token, SAME)
    with one_ward.site.store.read() as reader:
        (order,) = reader.orders_of("dm40417", before=reader.head() + 1)
        kept = reader.find_order_message(order.id)
    assert kept is not None
    assert kept.as_read == order.as_read == read_kept(order.as_read.as_data())
