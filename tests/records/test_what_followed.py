"""What followed a record: when its story has ended, what is told of it, and nothing that is not."""

import json
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from app.records import events
from app.records.canonical import canonical
from app.records.document import Names
from app.records.emergency_events import EvidenceKept
from app.records.formats import UnknownFormatError
from app.records.kept import SECOND, Entry, FrozenRecord, KeptFollowed
from app.records.state import Phase
from app.records.what_followed import (
    LEFT_FOR,
    SAYS,
    TO_CORRECT,
    Ending,
    as_read,
    as_told,
    build_what_followed,
    find_ending,
    told_of,
    who_did,
)
from app.records.written import entry_content
from app.words.followed import told_words
from tests.story.events import BEGAN, CHECK, CLEARANCE, NADIA, RUTH, TOMAS, Story

NAMES = Names(
    unit="Ward 4 East",
    people={NADIA: "Nadia Ferrow", TOMAS: "Tomas Osmund", RUTH: "Ruth Calloway"},
    staff_numbers={},
)
RECORD = {
    "site": "Larkmoor General Hospital (invented)",
    "zone": "Europe/Dublin",
    "invented": True,
    "rounds": [
        {
            "comparison": {},
            "case": {},
            "readings": {"A": {"wristband": {"identifier": "DM-40417", "birth_date": "1961-04-09"}}},
        }
    ],
}


class Frozen(FrozenRecord):
    """A frozen record whose document is at hand."""

    told = RECORD


FROZEN = Frozen(check=CHECK.id, edition=1, at=BEGAN, document=b"", digest="digest-1")


def ending(story: Story, *, later: timedelta = timedelta(0)) -> Ending | None:
    return find_ending(story.state(later=later), story.infusion(), edition=1)


def stopped(why: str = "line-or-site") -> Story:
    return Story().at_stage(Phase.STARTED).stopped(why=why)


MOMENT = timedelta(seconds=1)
ANEW = events.StartedWithoutCheck(reason="night", started_at="")


@pytest.mark.parametrize(
    ("story", "later", "expected"),
    [
        (lambda: Story().at_stage(Phase.SIGNING), LEFT_FOR, None),
        (lambda: Story().at_stage(Phase.SIGNING).abandoned(), timedelta(0), Ending.ABANDONED),
        (lambda: Story().at_stage(Phase.CLEARED), timedelta(0), None),
        (lambda: Story().at_stage(Phase.CLEARED), CLEARANCE + MOMENT, None),
        (lambda: Story().at_stage(Phase.CLEARED), LEFT_FOR - MOMENT, None),
        # Until somebody, or the sweeper, has written down that the time ran out it has not ended.
        (lambda: Story().at_stage(Phase.CLEARED), LEFT_FOR, None),
        (lambda: Story().at_stage(Phase.LAPSED), LEFT_FOR, Ending.LAPSED),
        (lambda: Story().at_stage(Phase.LAPSED), timedelta(0), None),
        (lambda: Story().at_stage(Phase.LAPSED).next_reading("device"), timedelta(0), Ending.SUPERSEDED),
        (lambda: Story().at_stage(Phase.LAPSED).abandoned(), timedelta(0), Ending.ABANDONED),
        (lambda: Story().at_stage(Phase.CLEARED).stopped(why="unsure"), timedelta(0), Ending.SUPERSEDED),
        (lambda: Story().at_stage(Phase.STARTED), LEFT_FOR, None),
        (stopped, LEFT_FOR - MOMENT, None),
        (stopped, LEFT_FOR, Ending.STOPPED),
        (lambda: stopped().misplaced(), LEFT_FOR, None),
        (lambda: stopped(events.END_OF_THERAPY), TO_CORRECT - MOMENT, None),
        (lambda: stopped(events.END_OF_THERAPY), TO_CORRECT, Ending.ENDED),
        (lambda: stopped(events.END_OF_THERAPY).misplaced(), TO_CORRECT, None),
        (lambda: stopped().tell(ANEW, by=RUTH), timedelta(0), Ending.STARTED_ANEW),
        (lambda: Story().at_stage(Phase.DONE), LEFT_FOR, None),
    ],
)
def test_the_story_of_an_edition_ends(story: Any, later: timedelta, expected: Ending | None) -> None:  # noqa: ANN401  # a maker
    assert ending(story(), later=later) is expected


def test_an_earlier_edition_ended_with_the_one_that_superseded_it() -> None:
    story = Story().at_stage(Phase.CLEARED)
    again = story.next_reading("device").both_handed_in().compared().steps_confirmed().frozen(edition=2)

    assert ending(again) is Ending.SUPERSEDED
    assert find_ending(again.state(), again.infusion(), edition=2) is None


def test_a_check_that_led_to_another_after_its_record_was_frozen_ends_it() -> None:
    story = Story().at_stage(Phase.STARTED)
    story.re_checks().both_handed_in().compared().frozen().led_on()

    assert ending(story) is Ending.LED


def kinds_told(entries: tuple[Entry, ...]) -> list[str]:
    return [each.event.kind for each in entries]


def test_it_is_told_from_the_freezing_on_and_of_this_edition() -> None:
    story = Story().at_stage(Phase.CLEARED).looked(SECOND, same=False).lapsed()

    assert kinds_told(told_of(story.entries, FROZEN)) == [
        "record-frozen",
        "signed",
        "signed",
        "last-look-taken",
        "clearance-lapsed",
    ]
    assert told_of(story.entries, replace(FROZEN, edition=2)) == ()


def put_right() -> Story:
    return Story().at_stage(Phase.CLEARED).taken_back().taken_back("2.4 mL")


def test_what_was_taken_back_and_put_right_after_signing_is_told_with_whoever_saw_it() -> None:
    told = told_of(put_right().entries, FROZEN)
    document = built(told=told)

    assert kinds_told(told)[-2:] == ["drug-taken-back", "drug-taken-back"]
    first, last = document["entries"][-2:]
    assert [each["data"]["volume"] for each in (first, last)] == ["2.3 mL", "2.4 mL"]
    assert (last["by"], last["witness"]) == ("Nadia Ferrow", "Ruth Calloway")
    assert "witness" not in document["entries"][0]


def test_what_was_taken_back_may_be_put_right_for_a_while_after_a_check_was_ended() -> None:
    story = Story().at_stage(Phase.SIGNING).taken_back().steps_confirmed().frozen(edition=2).abandoned()

    def told(later: timedelta) -> Ending | None:
        return find_ending(story.state(later=later), story.infusion(), edition=2)

    assert told(TO_CORRECT - MOMENT) is None
    assert told(TO_CORRECT) is Ending.ABANDONED


def test_stops_and_starts_of_the_infusion_are_told_whichever_check_they_stand_at() -> None:
    story = Story().at_stage(Phase.STARTED).stopped().misplaced()
    elsewhere = [replace(each, check="check-2") for each in story.entries[-2:]]
    another = replace(
        story.entries[-3], check="check-2", event=events.LastLookTaken(edition=1, slot=1, same=True)
    )

    told = told_of([*story.entries[:-2], another, *elsewhere], FROZEN)

    assert kinds_told(told)[-3:] == ["started", "device-stopped", "stop-misplaced"]


def built(**given: Any) -> dict[str, Any]:  # noqa: ANN401  # fields of the document
    usual: dict[str, Any] = {
        "told": told_of(stopped(events.END_OF_THERAPY).entries, FROZEN),
        "ending": Ending.ENDED,
        "until": 99,
        "names": NAMES,
    }
    return build_what_followed(CHECK, FROZEN, **usual | given)


def test_it_names_the_record_by_its_digest_and_each_entry_by_its_position() -> None:
    document = built()

    assert (document["record"], document["edition"], document["follows"]) == ("check-1", 1, "digest-1")
    assert document["entries"][0]["data"] == {"edition": 1, "digest": "digest-1"}
    positions = [each["position"] for each in document["entries"]]
    assert positions == sorted(positions)
    assert document["log"] == {"from": positions[0], "until": 99}
    assert document["ended"] == {"how": "ended"}


def test_it_says_whose_record_it_is_where_and_who_did_what() -> None:
    document = built()

    assert document["patient"] == {"identifier": "DM-40417", "birth_date": "1961-04-09"}
    assert document["check"] == {
        "kind": "set-up",
        "infusion": "infusion-1",
        "unit": "Ward 4 East",
        "unit_id": "ward-4-east",
        "bed": "12",
    }
    last = document["entries"][-1]
    assert (last["kind"], last["person"], last["by"]) == ("device-stopped", RUTH, "Ruth Calloway")
    assert last["data"]["why"] == events.END_OF_THERAPY


def test_it_says_that_it_is_no_record_and_that_nobody_signed_it() -> None:
    assert built()["says"] == list(SAYS)
    assert "no edition of it" in SAYS[0]
    assert "nobody signed it" in SAYS[1]
    assert built(says=("Otherwise.",))["says"] == ["Otherwise."]


def test_an_entry_reads_the_same_as_it_is_written_in_the_log() -> None:
    (*_, last) = told_of(stopped().entries, FROZEN)
    told = as_told(last)
    written = {**told, "at": last.at.isoformat(), "by": told["person"], "session": "s"}

    assert as_read(written) == told


def test_what_an_earlier_version_wrote_is_told_without_what_its_kind_has_since() -> None:
    """Else its document, made again, would not be the one that was sealed, nor what stands in the log."""
    kept = EvidenceKept(harm="3", seal="7701", holder="Ruth")
    (*_, last) = Story().at_stage(Phase.STARTED).tell(kept, by=RUTH).entries
    written = json.loads(entry_content(last))
    del written["data"]["to_confirm"]
    stored = Entry(**{**vars(last), "canonical": canonical(written)})
    assert as_told(stored) == as_read(written)
    assert as_told(last)["data"] == {**as_told(stored)["data"], "to_confirm": False}
    assert told_words(kept.kind, as_told(stored)["data"]) == told_words(kept.kind, as_told(last)["data"])


def test_a_stop_that_was_placed_by_whoever_is_in_charge_is_its_author_s() -> None:
    placed = events.DeviceStopped(stopped_at="", why="", totals="", author=TOMAS)
    (*_, last) = Story().at_stage(Phase.STARTED).tell(placed, by=RUTH).entries

    assert who_did(last) == TOMAS


def test_what_is_kept_of_it_is_read_by_the_version_that_it_says() -> None:
    def kept(document: bytes) -> KeptFollowed:
        return KeptFollowed(
            check="check-1", edition=1, document=document, content=b"", digest="", issued_at=BEGAN
        )

    said = b'{"format":"countersign.what-followed/1","edition":1}'
    assert kept(said).told["edition"] == 1
    with pytest.raises(UnknownFormatError):
        assert kept(said.replace(b"/1", b"/9")).told
