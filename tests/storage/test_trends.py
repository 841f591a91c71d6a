"""Counts for the trends: of checks that have ended, grouped alike by both engines."""

from dataclasses import replace
from datetime import timedelta
from fractions import Fraction

import pytest

from app.records.change_events import DoseLowered
from app.records.events import StartedWithoutCheck, StopMisplaced
from app.records.kept import Unit
from app.storage import (
    SEVERAL,
    Counted,
    Difference,
    DueCount,
    Month,
    OfDevice,
    Rare,
    Store,
    Tally,
    Took,
)
from tests.factories.many_checks import Found, Past, add_past
from tests.storage import builders as build
from tests.storage.builders import NOW
from tests.storage.row_builders import ended

DAY = timedelta(days=1)
MONTHS = [NOW, NOW + 30 * DAY, NOW + 60 * DAY]
ALL = Counted(months=MONTHS, unit="")
TWO = ("amari", "birk")

STOP = Found(code="device-differs", field="lockout", slip="decimal-shift", seconds=299)
CAUTION = Found(
    code="patient-at-risk", severity="caution", field="patient", settled="acknowledged", seconds=60
)
NOTE = Found(code="notation-differs", severity="note", settled="for information", seconds=None)


def past(number: int, days: float, *found: Found, unit: str = "ward-5", **row: object) -> Past:
    at = NOW + timedelta(days=days)
    return Past(id=f"check-{number}", at=at, unit=unit, people=TWO, found=found, row=row)


@pytest.fixture
def counted(store: Store) -> Store:
    """Six checks of two units in two months, one before these and one that goes on."""
    with store.write() as tx:
        build.add_ward(tx)
        tx.add_unit(Unit(id="ward-6", name="Ward 6"))
        for each in (
            past(1, -1, STOP),
            past(2, 1, STOP, CAUTION, NOTE),
            past(3, 2, kind="re-check", independence="one-device", earlier_look=True),
            past(4, 3, CAUTION, unit="ward-6", account="stopped", account_difference="5/2"),
            past(5, 31, STOP, account="agreed", account_difference="-0.1", kind="end-of-pca", how="done"),
            past(6, 32, account="agreed", account_difference="-0.1", kind="end-of-pca", how="done"),
        ):
            add_past(tx, each)
        add_past(tx, Past(id="open", at=NOW + DAY, unit="ward-5", people=TWO, found=(STOP,), open=True))
    return store


def test_by_month_and_unit(counted: Store) -> None:
    with counted.read() as reader:
        months = reader.months_counted(ALL)
        own = reader.months_counted(Counted(months=MONTHS, unit="ward-6"))

    fourth = Month(month=0, unit="ward-6", of=1, found=0)
    assert months == (
        Month(month=0, unit="ward-5", of=2, found=1),
        fourth,
        Month(month=1, unit="ward-5", of=2, found=1),
    )
    assert own == (fourth,)


def test_the_account_of_an_infusion_counts_once_by_its_last_check(counted: Store) -> None:
    """It ran short on the second day, and added up when it ended a month later."""
    of = {"infusion": "infusion of check-2", "unit": "ward-5"}
    with counted.write() as tx:
        for number, days, account in ((7, 2, "stopped"), (8, 33, "agreed")):
            at, name = NOW + days * DAY, f"check-{number}"
            tx.add_check(build.check(id=name, **of))
            told = {"account": account, "account_difference": str(number), "kind": "end-of-pca"}
            tx.add_ended(ended(check=name, compared_at=at, ended_at=at, how="done", **told, **of))
    with counted.read() as reader:
        accounts = reader.accounts_counted(ALL)
        first_month = reader.accounts_counted(Counted(months=MONTHS[:2], unit="")).by_month

    months = accounts.by_month
    assert months == (
        Month(month=0, unit="ward-6", of=1, found=1),
        Month(month=1, unit="ward-5", of=3, found=0),
    )
    assert {(each.other, each.count) for each in accounts.of_units} == {("-0.1", 2), ("8", 1)}
    assert first_month == months[:1]


def test_an_account_is_of_the_one_device_that_any_check_of_its_infusion_read(store: Store) -> None:
    """The end reads none; where two were used it is of several, and where none was read of none."""
    read = {"a": ("SN1", ""), "b": ("SN1", "SN1"), "c": ("SN1", "SN2"), "d": ("", "")}
    with store.write() as tx:
        build.add_ward(tx)
        for place, (name, devices) in enumerate(read.items()):
            tx.add_infusion(build.infusion(id=name))
            for number, device in enumerate(devices):
                at, check = NOW + (place + number / 2) * DAY, f"{name} {number}"
                told = {"account": "agreed", "kind": "set-up"}
                if number:
                    account = "stopped" if name == "b" else "agreed"
                    told = {"account": account, "account_difference": f"-{place}/2", "kind": "end-of-pca"}
                where = {"infusion": name, "device": device, "how": "done", **told}
                tx.add_check(build.check(id=check, infusion=name))
                tx.add_ended(ended(check=check, compared_at=at, ended_at=at, **where))
    one = replace(ALL, device="SN1")
    with store.read() as reader:
        accounts, own = reader.accounts_counted(ALL), reader.accounts_counted(one).by_month
        last, of_one = reader.last_differences(ALL), reader.last_differences(one)

    assert accounts.by_device == (
        OfDevice(device="", of=1, found=0),
        OfDevice(device="SN1", of=2, found=1),
        OfDevice(device=SEVERAL, of=1, found=0),
    )
    assert own == (Month(month=0, unit="ward-5", of=2, found=1),)
    amounts = {(each.what, each.other) for each in accounts.of_devices}
    assert amounts == {("", "-3/2"), ("SN1", "-0/2"), ("SN1", "-1/2"), (SEVERAL, "-2/2")}
    assert [each.amount for each in last] == ["-0/2", "-1/2", "-2/2", "-3/2"]
    assert of_one == tuple(
        Difference(at=NOW + (place + 0.5) * DAY, amount=f"-{place}/2") for place in range(2)
    )


def test_what_is_rare_has_its_place_among_all_and_what_goes_on_has_none(counted: Store) -> None:
    with counted.read() as reader:
        rare = reader.rare_stops(ALL)

    assert rare == (Rare(place=1, at=NOW + DAY), Rare(place=4, at=NOW + 31 * DAY))


def test_findings_by_code_field_and_slip_without_notes_and_without_what_goes_on(counted: Store) -> None:
    with counted.read() as reader:
        found = reader.findings_counted(ALL)
        cautions = reader.cautions_counted(ALL)
        settling = set(reader.times_to_settling(ALL))

    assert set(found.codes) == {
        Tally(what="device-differs", other="stop", count=2),
        Tally(what="patient-at-risk", other="caution", count=2),
    }
    assert set(found.slips) == {Tally(what="decimal-shift", other="stop", count=2)}
    assert cautions == (Tally(what="patient-at-risk", other="acknowledged", count=2),)
    # 299 s are four whole minutes.
    assert settling == {Took(what="stop", minutes=4, count=2), Took(what="caution", minutes=1, count=2)}


def test_grades_kinds_times_and_differences(counted: Store) -> None:
    with counted.read() as reader:
        grades, kinds = set(reader.grades_counted(ALL)), set(reader.kinds_counted(ALL))
        clearing, accounts = set(reader.times_to_clearance(ALL)), reader.accounts_counted(ALL)

    assert grades == {
        Tally(what="two-devices", other="", count=4),
        Tally(what="one-device", other="looked", count=1),
    }
    assert kinds == {
        Tally(what="set-up", other="started", count=2),
        Tally(what="re-check", other="started", count=1),
        Tally(what="end-of-pca", other="done", count=2),
    }
    # Opened nine minutes before it was compared, signed six minutes after.
    assert clearing == {
        Took(what="set-up", minutes=15, count=2),
        Took(what="re-check", minutes=15, count=1),
        Took(what="end-of-pca", minutes=15, count=2),
    }
    assert accounts.of_units == (Tally(what="ward-5", other="-0.1", count=2),)
    assert Fraction(accounts.of_units[0].other) < 0


def test_a_check_that_became_due_was_had_in_time_later_or_not_at_all(store: Store) -> None:
    """Of those without, one is within its time and counts for nothing yet, and one was of another bed."""
    minutes = {"a": 20, "b": 50, "c": None, "d": None, "e": None}
    began = {name: NOW + (10 * DAY if name == "d" else DAY) for name in minutes}
    with store.write() as tx:
        build.add_ward(tx)
        for name, had in minutes.items():
            tx.add_infusion(build.infusion(id=f"infusion {name}"))
            if had is not None:
                done = began[name] + timedelta(minutes=had)
                where = {"infusion": f"infusion {name}"}
                tx.add_check(build.check(id=name, **where))
                tx.add_ended(ended(check=name, compared_at=done, ended_at=done, how="done", **where))
        started = StartedWithoutCheck(reason="an arrest", started_at="")
        told = {
            name: tx.append(started, act=build.act(at=at), infusion=f"infusion {name}")
            for name, at in began.items()
        }
        said = StopMisplaced(stop=str(told["e"].position))
        tx.append(said, act=build.act(at=began["e"]), infusion="infusion e")
    seconds = {StartedWithoutCheck.kind: 30 * 60, DoseLowered.kind: 60}
    now = NOW + 10 * DAY + timedelta(minutes=5)

    with store.read() as reader:
        due = reader.due_counted(ALL, now, seconds)
        elsewhere = reader.due_counted(Counted(months=MONTHS, unit="ward-6"), now, seconds)
        bed = frozenset({(build.infusion().unit, build.infusion().bed)})
        hidden = reader.due_counted(replace(ALL, without=bed), now, seconds)

    assert due[0] == DueCount(kind=StartedWithoutCheck.kind, due=3, in_time=1, later=1)
    assert due[1] == DueCount(kind=DoseLowered.kind, due=0, in_time=0, later=0)
    assert elsewhere[0].due == 0
    assert (hidden[0].due, hidden[0].in_time, hidden[0].later) == (0, 0, 0)
