"""Names as the log has them: what was said last up to a position, or first of all."""

from datetime import UTC, datetime

from app.records.events import AccountChanged, Event, PersonNamed, UnitNamed
from app.records.kept import Entry
from app.records.names import NamesInLog, names_in_log

AT = datetime(2031, 5, 2, 12, 10, tzinfo=UTC)


def named(name: str, person: str = "nadia") -> PersonNamed:
    return PersonNamed(person=person, printed_name=name, staff_number="DM-1")


def log(said: dict[int, Event]) -> NamesInLog:
    common = {"at": AT, "by": "", "infusion": "", "check": "", "session": "", "device": ""}
    return names_in_log(
        Entry(position=position, event=event, signed_in_at=None, canonical=b"", **common)  # type: ignore[arg-type]
        for position, event in said.items()
    )


def test_a_name_holds_from_where_it_was_said_to_where_another_was() -> None:
    names = log({4: named("Nadia Ferow"), 5: named("Tomas Osmund", "tomas"), 9: named("Nadia Ferrow")})
    found = [names.find_person("nadia", position) for position in (4, 8, 9, 400)]
    assert [each and each.printed_name for each in found] == ["Nadia Ferow"] * 2 + ["Nadia Ferrow"] * 2


def test_what_the_log_said_first_held_before_it_too() -> None:
    names = log({7: named("Nadia Ferrow"), 8: UnitNamed(unit="ward", name="Ward 4"), 9: named("Other")})
    first = names.find_person("nadia", 1)
    ward = names.find_unit("ward", 1)
    assert first == named("Nadia Ferrow")
    assert ward == UnitNamed(unit="ward", name="Ward 4")


def test_of_whom_the_log_says_nothing_there_is_no_name() -> None:
    names = log({3: AccountChanged(person="nadia", what="made")})
    assert names == NamesInLog()
    assert names.find_person("nadia", 3) is None
    assert names.find_unit("ward", 3) is None
