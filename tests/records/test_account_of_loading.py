"""A loading dose in the account: given by the device at its start, where two read one on it."""

from app.records import events
from app.records.kinds import DEVICE_CHANGE, SETTINGS_CHANGE, SYRINGE_CHANGE
from app.records.reading import Answers
from tests.factories.answers import answers, changed
from tests.records.test_account import IN_VOLUMES, Course, begun, last_two
from tests.story.events import BEGAN


def with_loading(dose: str = "0.4 mg", **device: str | None) -> Answers:
    return answers(order={"loading_dose": "0.4 mg"}, device={**device, "loading_dose": dose})


def test_the_loading_dose_that_two_read_is_given_at_the_start() -> None:
    course = Course().starts("1", with_loading())
    assert last_two(course) == [{"kind": "started"}, {"kind": "bolus", "amount": "0.4 mg", "loading": True}]
    in_volumes = Course().starts("1", with_loading("2 mL", **IN_VOLUMES))
    assert last_two(in_volumes)[-1] == {"kind": "bolus", "amount": "2 mL", "loading": True}
    none = Course().starts("1", with_loading("0.0 mg"))
    assert last_two(none)[-1] == {"kind": "started"}


def test_it_is_given_again_where_an_order_was_read_that_asks_for_it_and_with_no_other_change() -> None:
    for kind, is_given in ((SETTINGS_CHANGE, True), (DEVICE_CHANGE, False), (SYRINGE_CHANGE, False)):
        read = changed(with_loading(), totals={"read_at": BEGAN.isoformat()})
        course = Course().starts("1").reads("2", read, volume="")
        course.tell(events.Started(check_kind=kind.name), "2")
        assert (last_two(course)[-1]["kind"] == "bolus") is is_given, kind.name


def test_of_what_was_started_without_a_check_it_is_taken_to_have_been_given_then() -> None:
    course = begun().reads("b", changed(with_loading(), totals={"read_at": BEGAN.isoformat()}), volume="")
    course.tell(events.CheckDone(check_kind="re-check"), "b")
    *_, started, bolus, _ = course.account().entries
    assert (started.data["kind"], bolus.data["kind"], bolus.at) == ("started", "bolus", started.at)
