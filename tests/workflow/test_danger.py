"""Somebody sees danger while reading: the round is void, and what both wrote elsewhere stands."""

from app.records.kept import SOURCES, TYPING
from app.records.reading import WHOLE
from app.records.sources import Source
from app.records.state import Phase
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


def test_whoever_sees_danger_says_so_and_both_read_again(ward: Ward) -> None:
    ward.opens().joins().reads(NADIA).drafts(TOMAS, answers())
    said = reading.say_danger(ward.site, ward.act(TOMAS), ward.check, why="wrong-syringe")

    assert said == reading.Voided()
    state = ward.state()
    assert (state.phase, len(state.rounds), state.rounds[0].voided) == (Phase.READING, 2, "wrong-syringe")
    assert state.rereadings == 0
    with ward.site.store.read() as reader:
        assert reader.drafts(ward.check, 1, TOMAS.id) == {}
    ward.both_read().compares()
    assert ward.state().rounds[0].compared_at is None


def says_danger(ward: Ward, who: Somebody, *sources: str) -> None:
    said = reading.say_danger(ward.site, ward.act(who), ward.check, why="", sources=sources)
    assert said == reading.Voided()


def test_of_a_danger_in_one_source_both_keep_what_they_wrote_in_the_others(ward: Ward) -> None:
    ward.opens().joins().drafts(NADIA, answers()).drafts(TOMAS, DIFFERING)
    says_danger(ward, TOMAS, "label")

    for who, read in ((NADIA, answers()), (TOMAS, DIFFERING)):
        own = desk(ward, who)
        assert isinstance(own, reading.Desk)
        assert own.round.number == 2
        assert own.answers == {source: read[source] for source, _ in WHOLE if source != "label"}
        with ward.site.store.read() as reader:
            assert reader.drafts(ward.check, 1, who.id) == {}
    # Handed in is what was looked over in this round: the label is not in it.
    assert hands_in(ward, NADIA) == reading.HandedIn(both=False, round=2)
    assert ward.reads(TOMAS).compares().state().rounds[0].compared_at is None
    assert ("reading-missing", "drug") in {(each.code, each.field) for each in ward.state().open_stops}


def test_what_was_left_in_the_fields_of_the_others_goes_on_too(one_ward: Ward) -> None:
    one_ward.opens().joins()
    for source in (Source.LABEL, Source.DEVICE):
        reading.keep_typing(
            one_ward.site,
            one_ward.act(NADIA),
            one_ward.check,
            source=source,
            typed={"amount": ".2"},
            page=reading.Page(),
        )
    says_danger(one_ward, TOMAS, "label")

    own = desk(one_ward, NADIA)
    assert isinstance(own, reading.Desk)
    assert own.typed == {"device": {"amount": ".2"}}


def test_whoever_had_handed_in_reads_everything_anew(one_ward: Ward) -> None:
    """A reading whose round was never compared is shown to nobody, not even to its author."""
    one_ward.opens().joins().reads(NADIA).drafts(TOMAS, answers())
    says_danger(one_ward, TOMAS, "label")

    own = desk(one_ward, NADIA)
    assert isinstance(own, reading.Desk)
    assert (own.answers, own.typed) == ({}, {})
    assert hands_in(one_ward, NADIA) == NotNow(phase=Phase.READING)


def test_the_drafts_of_both_are_stored_alike_whoever_had_written(ward: Ward) -> None:
    """Neither a clock nor a copy of the tables tells who of the two had written or handed in."""
    stored = []
    for bed, nadia in (("1", "nothing"), ("2", "drafts"), ("3", "hands in")):
        ward.opens(bed=bed).joins()
        if nadia != "nothing":
            ward.drafts(NADIA, answers())
        if nadia == "hands in":
            hands_in(ward, NADIA)
        says_danger(ward, TOMAS, "label")
        with ward.site.store.read() as reader:
            drafts = reader.drafts(ward.check, 2, NADIA.id)
        stored.append({subject: len(each.envelope) for subject, each in drafts.items()})

    assert stored == [stored[0]] * 3
    assert set(stored[0]) == {SOURCES, TYPING}


def test_a_page_from_before_the_danger_brings_nothing_of_its_source_back(one_ward: Ward) -> None:
    one_ward.opens().joins()
    says_danger(one_ward, TOMAS, "device")

    refused = saves(one_ward, NADIA, {"lockout": "10 min"})
    assert isinstance(refused, reading.ReadAnew)
    assert (
        reading.keep_typing(
            one_ward.site,
            one_ward.act(NADIA),
            one_ward.check,
            source=Source.DEVICE,
            typed={"lockout": "10"},
            page=reading.Page(),
        )
        == reading.TypingNotKept()
    )
    own = desk(one_ward, NADIA)
    assert isinstance(own, reading.Desk)
    assert (own.answers, own.typed) == ({}, {})


def test_a_page_from_before_the_danger_still_keeps_another_source(one_ward: Ward) -> None:
    one_ward.opens().joins()
    says_danger(one_ward, TOMAS, "label")

    assert saves(one_ward, NADIA, {"lockout": "10 min"}) == 2
    own = desk(one_ward, NADIA)
    assert isinstance(own, reading.Desk)
    assert own.answers["device"] == {"lockout": "10 min"}


def test_what_was_looked_over_before_the_danger_is_not_handed_in(one_ward: Ward) -> None:
    one_ward.opens().joins().drafts(NADIA, answers())
    own = desk(one_ward, NADIA)
    assert isinstance(own, reading.Desk)
    says_danger(one_ward, TOMAS, "label")

    def hands_in_what_was_shown(page: reading.Page) -> object:
        return reading.hand_in(one_ward.site, one_ward.act(NADIA), one_ward.check, page=page)

    assert hands_in_what_was_shown(own.page) == reading.NotAsShown()
    now = desk(one_ward, NADIA)
    assert isinstance(now, reading.Desk)
    assert hands_in_what_was_shown(now.page) == reading.HandedIn(both=False, round=2)


def test_what_is_no_source_of_this_kind_puts_everything_aside(one_ward: Ward) -> None:
    one_ward.opens().joins().drafts(NADIA, answers())
    says_danger(one_ward, TOMAS, "no-such-source")

    own = desk(one_ward, NADIA)
    assert isinstance(own, reading.Desk)
    assert own.answers == {}
    assert one_ward.state().rounds[0].danger_in == ()


def test_a_round_voided_before_it_was_compared_is_never_compared(ward: Ward) -> None:
    ward.at_stage(Phase.BOTH_HANDED_IN)
    reading.say_danger(ward.site, ward.act(NADIA), ward.check, why="wrong-syringe")

    assert not compare_round(ward.site, ward.check, ward.now)
    assert ward.phase is Phase.READING


def test_danger_is_said_by_the_two_while_they_read(one_ward: Ward) -> None:
    def says(who: Somebody) -> object:
        return reading.say_danger(one_ward.site, one_ward.act(who), one_ward.check, why="")

    one_ward.at_stage(Phase.READING)
    assert says(IMOGEN) == NotYours()
    one_ward.both_read().compares()
    assert says(NADIA) == NotNow(phase=Phase.STEPS)
    one_ward.check = "no-such-check"
    assert says(NADIA) == NotFound()
