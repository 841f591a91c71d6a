"""Draft, hand in, wait, read again: blind, once, by two, in two sessions."""

from datetime import timedelta

import pytest

from app.keys import EnvelopeBroken, open_envelope
from app.records.fields import FIELDS
from app.records.kept import PRIMING, SOURCES
from app.records.reading import WHOLE
from app.records.sealed import draft_context, reading_context
from app.records.sources import Source
from app.records.state import Phase
from app.site.readings import open_reading
from app.workflow import reading
from app.workflow.comparing import compare_round
from app.workflow.refusals import NotFound, NotNow, NotYours
from tests.factories.answers import answers, as_read
from tests.story.people import IMOGEN, NADIA, TOMAS, Somebody
from tests.story.ward import DIFFERING, Ward


def desk(ward: Ward, who: Somebody) -> object:
    return reading.open_desk(ward.site, ward.act(who), ward.check)


def hands_in(ward: Ward, who: Somebody) -> object:
    return reading.hand_in(ward.site, ward.act(who), ward.check)


def saves(ward: Ward, who: Somebody, given: dict[str, str], *, version: int = 0, number: int = 1) -> object:
    """The version that is kept now; what was refused."""
    kept: object = reading.save_draft(
        ward.site,
        ward.act(who),
        ward.check,
        source=Source.DEVICE,
        read=as_read(given),
        page=reading.Page(round=number, version=version),
    )
    match kept:
        case reading.Saved(version=now):
            return now
        case reading.Stale():
            return "stale"
        case _:
            return kept


# ---------------------------------------------------------------------------------------------------------
# The draft


def test_a_draft_comes_back_to_its_author_and_to_nobody_else(ward: Ward) -> None:
    ward.opens().joins()
    assert saves(ward, NADIA, {"lockout": "10 min"}) == 1

    own, others = desk(ward, NADIA), desk(ward, TOMAS)
    assert isinstance(own, reading.Desk)
    assert isinstance(others, reading.Desk)
    assert (own.answers["device"], own.page.version) == ({"lockout": "10 min"}, 1)
    assert (others.answers, others.page.version, others.before) == ({}, 0, {})


def test_a_draft_takes_no_field_that_the_round_does_not_ask(one_ward: Ward) -> None:
    one_ward.opens().joins().both_read(answers(), DIFFERING).compares().reads_again()
    saves(one_ward, NADIA, {"demand_dose": "0.2 mg", "lockout": "6 min"}, number=2)
    own = desk(one_ward, NADIA)
    assert isinstance(own, reading.Desk)

    assert own.answers == {"device": {"demand_dose": "0.2 mg"}}
    assert own.before["device"]["lockout"] == "10 min"


def test_two_tabs_of_one_person_do_not_overwrite_each_other(ward: Ward) -> None:
    ward.opens().joins()
    assert saves(ward, NADIA, {"lockout": "10 min"}) == 1

    assert saves(ward, NADIA, {"lockout": "6 min"}) == "stale"
    assert saves(ward, NADIA, {"lockout": "6 min"}, version=1) == 2
    assert saves(ward, NADIA, {"lockout": "8 min"}, version=1) == "stale"
    own = desk(ward, NADIA)
    assert isinstance(own, reading.Desk)
    assert own.answers["device"] == {"lockout": "6 min"}


def test_what_was_kept_of_one_source_on_another_screen_hinders_no_other(ward: Ward) -> None:
    """Two screens of one person: only the same source kept otherwise stands in the way."""
    ward.opens().joins()
    read = as_read({"drug": "HYDROmorphone"})
    first = reading.Page()
    for source in (Source.ORDER, Source.LABEL):
        kept: object = reading.save_draft(
            ward.site, ward.act(NADIA), ward.check, source=source, read=read, page=first
        )
        assert isinstance(kept, reading.Saved)
    assert saves(ward, NADIA, {"lockout": "10 min"}) == 3

    own = desk(ward, NADIA)
    assert isinstance(own, reading.Desk)
    assert {source for source, given in own.answers.items() if given} == {"order", "label", "device"}


def test_a_draft_makes_no_entry_in_the_log(one_ward: Ward) -> None:
    one_ward.opens().joins()
    before = one_ward.state().last_position
    saves(one_ward, NADIA, {"lockout": "10 min"})

    assert one_ward.state().last_position == before


# ---------------------------------------------------------------------------------------------------------
# Handing in


def test_handed_in_is_handed_in(ward: Ward) -> None:
    ward.opens().joins().drafts(NADIA, answers())
    assert hands_in(ward, NADIA) == reading.HandedIn(both=False, round=1)

    assert hands_in(ward, NADIA) == reading.AlreadyHandedIn()
    assert desk(ward, NADIA) == reading.AlreadyHandedIn()
    assert saves(ward, NADIA, {"lockout": "6 min"}) == reading.AlreadyHandedIn()
    with ward.site.store.read() as reader:
        assert reader.drafts(ward.check, 1, NADIA.id) == {}
    assert ward.drafts(TOMAS, answers()).phase is Phase.READING
    assert hands_in(ward, TOMAS) == reading.HandedIn(both=True, round=1)
    assert ward.phase is Phase.BOTH_HANDED_IN


def test_a_reading_of_nothing_cannot_be_handed_in(one_ward: Ward) -> None:
    one_ward.opens().joins()

    assert hands_in(one_ward, NADIA) == NotNow(phase=Phase.READING)


def test_a_page_of_a_voided_round_hands_in_nothing(one_ward: Ward) -> None:
    one_ward.opens().joins().drafts(TOMAS, answers())
    reading.say_danger(one_ward.site, one_ward.act(NADIA), one_ward.check, why="wrong-syringe")

    assert hands_in(one_ward, TOMAS) == NotNow(phase=Phase.READING)
    assert one_ward.reads(TOMAS).state().rounds[1].handed_in.keys() == {2}


def test_only_the_two_read_and_only_while_it_is_time(ward: Ward) -> None:
    ward.opens().joins()

    assert desk(ward, IMOGEN) == NotYours()
    assert saves(ward, IMOGEN, {}) == NotYours()
    assert hands_in(ward, IMOGEN) == NotYours()
    ward.both_read().compares()
    assert desk(ward, NADIA) == NotNow(phase=Phase.STEPS)
    assert saves(ward, NADIA, {}) == NotNow(phase=Phase.STEPS)
    ward.check = "no-such-check"
    assert desk(ward, NADIA) == NotFound()
    assert saves(ward, NADIA, {}) == NotFound()
    assert hands_in(ward, NADIA) == NotFound()


def test_the_opener_may_hand_in_before_the_second_has_joined(ward: Ward) -> None:
    ward.opens().reads(NADIA)
    assert ward.phase is Phase.OPENED

    assert ward.joins().reads(TOMAS).phase is Phase.BOTH_HANDED_IN


# ---------------------------------------------------------------------------------------------------------
# One device


def test_on_one_device_the_second_signs_in_after_the_first_has_handed_in(ward: Ward) -> None:
    ward.signs_in(NADIA, device="the tablet")
    ward.signs_in(TOMAS, device="the tablet")
    ward.opens().joins().reads(NADIA)

    assert desk(ward, TOMAS) == reading.SignInAnew()
    assert hands_in(ward, TOMAS) == reading.SignInAnew()
    assert saves(ward, TOMAS, {}) == reading.SignInAnew()
    ward.signs_in(TOMAS, device="the tablet")
    assert isinstance(desk(ward, TOMAS), reading.Desk)
    assert ward.reads(TOMAS).phase is Phase.BOTH_HANDED_IN


def test_in_the_next_reading_the_same_holds_again(one_ward: Ward) -> None:
    one_ward.signs_in(NADIA, device="the tablet")
    one_ward.opens().reads(NADIA)
    one_ward.signs_in(TOMAS, device="the tablet")
    one_ward.joins().reads(TOMAS, DIFFERING).compares().reads_again(TOMAS).reads(TOMAS)

    assert desk(one_ward, NADIA) == reading.SignInAnew()
    one_ward.signs_in(NADIA, device="the tablet")
    assert isinstance(desk(one_ward, NADIA), reading.Desk)


# ---------------------------------------------------------------------------------------------------------
# What is stored says nothing without the key, and opens only where it belongs


def test_a_reading_opens_only_as_this_reading(one_ward: Ward) -> None:
    one_ward.opens().joins().drafts(NADIA, answers())
    with one_ward.site.store.read() as reader:
        draft = reader.drafts(one_ward.check, 1, NADIA.id)[SOURCES]
    one_ward.reads(NADIA)
    with one_ward.site.store.read() as reader:
        kept = reader.find_reading(one_ward.check, SOURCES, 1, 1)
    assert kept is not None
    key = one_ward.site.key

    asked = {each.name for each in FIELDS[Source.LABEL] if not each.by_kind}
    label = {name: text for name, text in answers()["label"].items() if name in asked}
    whole = {source: answers()[source] for source, _ in WHOLE}
    assert open_reading(one_ward.site, kept) == {**whole, "label": label}
    for context in (
        draft_context(one_ward.check, SOURCES, 1, NADIA.id),
        reading_context(one_ward.check, SOURCES, 2, NADIA.id),
        reading_context(one_ward.check, SOURCES, 1, TOMAS.id),
        reading_context(one_ward.check, PRIMING, 1, NADIA.id),
        reading_context("another-check", SOURCES, 1, NADIA.id),
    ):
        with pytest.raises(EnvelopeBroken):
            open_envelope(key, context, kept.envelope)
    with pytest.raises(EnvelopeBroken):
        open_envelope(key, reading_context(one_ward.check, SOURCES, 1, NADIA.id), draft.envelope)


def test_the_same_reading_is_committed_to_otherwise_each_time(one_ward: Ward) -> None:
    one_ward.opens().joins().both_read()
    with one_ward.site.store.read() as reader:
        first, second = reader.readings(one_ward.check)

    assert first.commitment != second.commitment
    assert len(first.envelope) == len(second.envelope)


# ---------------------------------------------------------------------------------------------------------
# What is compared


def test_each_field_counts_as_it_was_read_last(ward: Ward) -> None:
    ward.opens().joins().both_read(answers(device={"lockout": "10 min"}), DIFFERING).compares()
    ward.reads_again().both_read(answers(device={"demand_dose": "0.2 mg", "lockout": "6 min"})).compares()
    kept = ward.loaded().last_comparison
    assert kept is not None
    assert kept.round == 2
    case = kept.opened

    assert [case["answers"][each]["device"]["demand_dose"] for each in "AB"] == ["0.2 mg", "0.2 mg"]
    # The lockout was not asked again: it stands as it was read first.
    assert [case["answers"][each]["device"]["lockout"] for each in "AB"] == ["10 min", "10 min"]
    assert ward.phase is Phase.STEPS


def test_a_field_that_was_left_blank_in_the_next_reading_is_missing(one_ward: Ward) -> None:
    one_ward.opens().joins().both_read(answers(), DIFFERING).compares()
    one_ward.reads_again().reads(NADIA).reads(TOMAS, answers(device={"demand_dose": None})).compares()

    assert "reading-missing" in one_ward.codes()
    assert one_ward.phase is Phase.DISPUTED


def test_a_source_that_was_touched_is_read_whole_and_nothing_earlier_counts(one_ward: Ward) -> None:
    wrong = answers(device={"demand_dose": "2 mg"})
    one_ward.opens().joins().both_read(wrong, wrong).compares()
    assert "device-differs" in one_ward.codes()
    one_ward.reads_again(NADIA, "device")
    one_ward.both_read(answers(), answers(device={"lockout": None})).compares()

    assert [(each.code, each.field) for each in one_ward.state().open_stops] == [
        ("reading-missing", "lockout")
    ]


def test_a_use_by_date_lasts_to_the_end_of_the_day_on_the_ward(one_ward: Ward) -> None:
    # Half past midnight on 3 May in the site's zone is half past eleven on 2 May in Greenwich.
    last_day = answers(label={"use_by": "2031-05-02"})
    one_ward.wait(timedelta(hours=11, minutes=20))
    one_ward.opens().joins().both_read(last_day).compares()

    assert one_ward.codes()[0] == "label-expired"


def test_on_that_day_the_label_is_good(one_ward: Ward) -> None:
    one_ward.opens().joins().both_read(answers(label={"use_by": "2031-05-02"})).compares()

    assert "label-expired" not in one_ward.codes()


def test_comparing_twice_changes_nothing(ward: Ward) -> None:
    ward.at_stage(Phase.BOTH_HANDED_IN).compares()
    before = ward.state().last_position

    assert not compare_round(ward.site, ward.check, ward.now)
    assert not compare_round(ward.site, "no-such-check", ward.now)
    assert ward.state().last_position == before
