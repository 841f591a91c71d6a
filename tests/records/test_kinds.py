"""What must hold of every kind of check."""

import pytest

from app.records.kept import FIRST, SECOND
from app.records.kinds import END_OF_PCA, KINDS, SET_UP, End, Given, Kind, Syringe, Totals, kind_named
from app.records.reading import fields_in, sources_in
from app.records.sources import Source
from app.records.taken_back import IN_LINE, IN_SYRINGE

every_kind = pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.name)


@every_kind
def test_a_kind_is_found_by_its_name(kind: Kind) -> None:
    assert kind_named(kind.name) is kind


@every_kind
def test_the_two_are_called_differently(kind: Kind) -> None:
    assert kind.part(FIRST) != kind.part(SECOND)
    assert kind.parts_by_letter == {"A": kind.part(FIRST), "B": kind.part(SECOND)}


@every_kind
def test_only_what_is_cleared_to_start_and_what_ends_has_safety_steps(kind: Kind) -> None:
    has_steps = kind.end is End.CLEARED or kind.ends
    assert bool(kind.plans) == has_steps == ("safety_steps" in kind.sections)


@every_kind
def test_only_what_is_done_ends_an_infusion(kind: Kind) -> None:
    assert kind.end is End.DONE or not kind.ends


@every_kind
def test_a_kind_either_puts_something_right_or_leads_to_one_that_does(kind: Kind) -> None:
    assert bool(kind.put_right) is not bool(kind.leads_to)
    assert set(kind.put_right) <= set(sources_in(kind.reads))
    assert not kind.leads_to or kind_named(kind.leads_to).put_right


@every_kind
def test_what_keeps_the_syringe_has_no_other_one_put_on(kind: Kind) -> None:
    assert not (kind.syringe is Syringe.STAYS and Source.LABEL in kind.put_right)


@every_kind
def test_what_is_changed_is_held_beside_what_was_in_force(kind: Kind) -> None:
    assert not kind.changes or (kind.end is End.CLEARED and Given.PREVIOUS in kind.given)


def test_no_two_kinds_mean_the_same_by_signing() -> None:
    assert len({kind.meaning for kind in KINDS.values()}) == len(KINDS)


def test_a_set_up_is_not_held_to_the_order_that_was_read_before() -> None:
    wanted = {Given.PATIENT, Given.PREVIOUS, Given.RUNNING, Given.ORDERS, Given.ISSUED}
    assert wanted == SET_UP.given


def test_at_the_end_what_a_line_holds_was_told_when_it_was_primed() -> None:
    assert SET_UP.portions == (IN_SYRINGE, IN_LINE)
    assert END_OF_PCA.portions == (IN_SYRINGE,)


@every_kind
def test_doses_are_computed_where_the_device_is_read(kind: Kind) -> None:
    assert kind.reads_settings == (Source.DEVICE in sources_in(kind.reads))


@every_kind
def test_what_is_asked_of_either_is_what_they_read(kind: Kind) -> None:
    for slot in (FIRST, SECOND):
        asked = {
            (source, each.name)
            for source in Source
            for each in fields_in(kind.reads, source)
            if kind.is_asked_of(slot, source, each.name)
        }
        assert asked == {
            (source, each.name)
            for source in sources_in(kind.reads_of(slot))
            for each in fields_in(kind.reads_of(slot), source)
        }


@every_kind
def test_only_with_another_device_its_own_steps_are_asked(kind: Kind) -> None:
    assert bool(kind.facts) is (kind.totals is Totals.OF_ANOTHER_DEVICE)
