"""The account counted once more in SQL, on both engines: a fold that says something else is named."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from fractions import Fraction
from typing import Any

import pytest
from sqlalchemy import text

from app.auditing.invariants import Invariant, check_invariants
from app.auditing.recounting import differing_accounts
from app.auditing.verifying_store import Wanted, verify_store
from app.judging.account import balanced
from app.quantities import Dimension, Quantity, parse_quantity
from app.quantities.units import units_of
from app.records import account, account_collected
from app.records.account_entries import TotalsRead, given_away, totals_read
from app.records.kinds import SYRINGE_CHANGE
from app.records.reading import Answers
from app.records.state import Phase
from app.records.store_verification import Failing
from app.records.ward_events import DrugTakenBack
from app.site.loading import account_of
from app.storage import Recounted, recounted
from app.workflow import emergencies, misplaced_starts, starting, stopping, wasting
from app.workflow.taking_back import FirstKept
from tests.factories.answers import answers, changed, of_patient
from tests.story.people import NADIA, QUILL, RUTH
from tests.story.ward import Ward, open_ward
from tests.support.tampering import as_database_administrator

COUNTS = {"counts_bolus": True, "counts_loading": True, "counts_prime": False}
FINAL = {"total_amount": "1.6 mg", "presses": "9", "doses": "8", "left": "19.6 mL"}


@pytest.fixture
def ward(database_url: str) -> Iterator[Ward]:
    """The second syringe runs; the first had given 8 mL, 2 mL were spilt, and the rest of it is wasted."""
    with open_ward(database_url) as made:
        made.at_stage(Phase.STARTED).wait(timedelta(hours=4))
        second = changed(answers(), label={"lot": "LOT-8"}, totals=FINAL)
        made.changes(SYRINGE_CHANGE).both_read(made.of_its_patient(second)).compares()
        made.primes("0.3 mL").confirms_all().both_sign().both_look().starts()
        goes(made, "wasted", "19.6 mL", "LOT-7")
        goes(made, "spilt", "2 mL", "LOT-8")
        yield made


def goes(ward: Ward, what: str, volume: str, lot: str) -> None:
    """One reads it, and a colleague too."""
    infusion = ward.state().check.infusion
    seen = wasting.see_waste(ward.site, ward.act(NADIA), infusion)
    assert isinstance(seen, wasting.WasteSeen)
    gone = wasting.Gone(what=what, volume=volume, lot=lot, syringe="", stated_at="", last=seen.last)
    assert wasting.read_waste(ward.site, ward.act(NADIA), infusion, gone) == FirstKept()
    said = wasting.witness_waste(
        ward.site, ward.act(NADIA), infusion, volume, login=RUTH.login, secret=RUTH.secret
    )
    assert said == wasting.WrittenDown()


def keeps(
    ward: Ward, seal: str, read: dict[str, str], *, of_new: bool = True, misplaced: bool = False
) -> None:
    """What is on is kept as evidence, as one person wrote it; `misplaced`, that was at another bed."""
    infusion, act = ward.state().check.infusion, ward.act(NADIA)
    note = emergencies.note_harm(ward.site, act, infusion, what="overdose") if of_new else None
    sealed = emergencies.Sealed(seal=seal, read=read)
    assert isinstance(emergencies.keep_evidence(ward.site, act, infusion, sealed), emergencies.Noted)
    if misplaced and isinstance(note, emergencies.Noted):
        said = stopping.say_misplaced(ward.site, act, note.note)
        assert isinstance(said, stopping.SaidMisplaced)


def differing(ward: Ward) -> list[str]:
    with ward.site.store.read() as reader:
        return [each.partition(": ")[2] for each in differing_accounts(reader, ward.now)]


def test_each_syringe_comes_to_what_was_read(ward: Ward) -> None:
    infusion = ward.state().check.infusion
    with ward.site.store.read() as reader:
        found = reader.recounted([infusion], **COUNTS)[infusion]

    nothing = Fraction(0)
    assert found == (
        Recounted(
            name="1",
            loaded=Fraction(30),
            primed=Fraction("2.4"),
            delivered_by_device=Fraction(8),
            not_read=nothing,
            wasted=Fraction("19.6"),
            returned=nothing,
            kept=nothing,
            left=nothing,
        ),
        Recounted(
            name="2",
            loaded=Fraction(30),
            primed=Fraction("0.3"),
            delivered_by_device=nothing,
            not_read=nothing,
            wasted=Fraction(2),
            returned=nothing,
            kept=nothing,
            left=Fraction("27.7"),
        ),
    )
    assert [each.difference for each in found] == [nothing, nothing]
    assert differing(ward) == []

    # The second is kept as evidence: one person wrote its totals otherwise, and then as they were.
    keeps(ward, "S-1", {"total_amount": "9 mg", "presses": "9", "left": "2 mL"}, misplaced=True)
    keeps(ward, "S-2", {"total_amount": "9 mg", "total_volume": "none", "presses": "9", "left": "20 mL"})
    keeps(ward, "", {"total_amount": "1.5 mg", "doses": "none"}, of_new=False)
    with ward.site.store.read() as reader:
        last = reader.recounted([infusion], **COUNTS)[infusion][-1]
    assert (last.kept, last.left, last.delivered_by_device) == (Fraction(20), nothing, Fraction("7.5"))
    assert last.difference == Fraction("0.2")
    assert differing(ward) == []

    # Given free, it is in hand, and goes before a witness.
    emergencies.release_evidence(ward.site, ward.act(QUILL), infusion)
    assert differing(ward) == []
    goes(ward, "wasted", "19.6 mL", "LOT-8")
    assert differing(ward) == []


IN_VOLUMES = {
    **dict.fromkeys(("amount", "volume")),
    "strength": "in-millilitres",
    "demand_dose": "1 mL",
    "limit_amount": "10 mL",
    "loading_dose": "2 mL",
}


def test_a_loading_dose_is_counted_apart_where_the_devices_totals_leave_it_out(database_url: str) -> None:
    """0.4 mg of 0.2 mg/mL, and a demand of 0.2 mg since; by a device in masses, and by one in volumes."""
    order = {"loading_dose": "0.4 mg"}
    shown = {
        "total_amount": "0.6 mg",
        "total_volume": "none",
        "presses": "1",
        "doses": "1",
        "left": "24.7 mL",
    }
    in_volume = {"total_amount": "none", "total_volume": "3 mL"}
    with open_ward(database_url) as ward:
        for bed, device, totals in ((5, order, shown), (6, IN_VOLUMES, {**shown, **in_volume})):
            read = of_patient(f"DM-5000{bed}", answers(order=order, device=device, totals=totals))
            ward.opens(bed=str(bed)).joins().both_read(read).compares()
            ward.confirms_all().both_sign().both_look().starts().wait(timedelta(hours=1))
            ward.re_checks().both_read(read).compares()
            # It is honest as the site's policy has it.
            assert ward.codes() == []
            ward.both_sign()
            infusion = ward.state().check.infusion
            with ward.site.store.read() as reader:
                for counts, given in ((True, Fraction(3)), (False, Fraction(5))):
                    asked = {**COUNTS, "counts_loading": counts}
                    (syringe,) = reader.recounted([infusion], **asked)[infusion]
                    assert syringe.delivered_by_device == given
                    entries = account_of(reader, infusion).written()
                    (folded,) = balanced(entries, {"totals_count_loading": counts})["syringes"]
                    assert folded["volume"]["delivered_by_device"]["exact"] == str(given)
        assert differing(ward) == []


def test_what_was_read_after_the_clock_was_put_back_is_counted_after_what_was_read_before(
    database_url: str,
) -> None:
    """Seven doses of 1 mL, by both; nothing went back, and what is spilt since is told in its place."""
    with open_ward(database_url) as ward:
        ward.at_stage(Phase.STARTED)
        reads = (("1.2 mg", "6", "21.6 mL"), ("1.4 mg", "7", "20.6 mL"))
        for (amount, doses, left), later in zip(reads, (180, -50), strict=True):
            ward.wait(timedelta(minutes=later))
            totals = {"total_amount": amount, "presses": doses, "doses": doses, "left": left}
            read = ward.of_its_patient(changed(answers(), totals=totals))
            ward.re_checks().both_read(read).compares().both_sign()
        ward.wait(timedelta(minutes=5))
        goes(ward, "spilt", "2 mL", "LOT-7")
        infusion = ward.state().check.infusion
        with ward.site.store.read() as reader:
            (syringe,) = reader.recounted([infusion], **COUNTS)[infusion]
        assert (syringe.delivered_by_device, syringe.left) == (Fraction(7), Fraction("18.6"))
        assert differing(ward) == []


def test_a_syringe_that_came_on_without_its_check_is_recounted_as_it_was_found(ward: Ward) -> None:
    """In a change that was given up for a start; and in no check at all."""
    ward.wait(timedelta(hours=1)).changes(SYRINGE_CHANGE)
    third = {"total_amount": "1.8 mg", "presses": "10", "doses": "9", "left": "24.7 mL"}
    ward.both_read(ward.of_its_patient(changed(answers(), label={"lot": "LOT-9"}, totals=third))).compares()
    starting.note_start_despite_check(ward.site, ward.act(NADIA), ward.check, reason="pain")
    assert differing(ward) == []
    for lot, left in (("LOT-9", "29.7 mL"), ("LOT-11", "30 mL")):
        totals = {**third, "left": left}
        read = ward.of_its_patient(changed(answers(), label={"lot": lot}, totals=totals))
        ward.wait(timedelta(minutes=20)).re_checks().both_read(read).compares().both_sign()
        assert differing(ward) == []
    infusion = ward.state().check.infusion
    with ward.site.store.read() as reader:
        found = reader.recounted([infusion], **COUNTS)
    assert [(each.name, each.left) for each in found[infusion]] == [
        ("1", 0),
        ("2", Fraction("24.7")),
        ("3", None),
        ("4", 30),
    ]
    goes(ward, "wasted", "24.7 mL", "LOT-8")
    goes(ward, "wasted", "29.7 mL", "LOT-9")
    assert differing(ward) == []


def test_a_start_that_was_of_another_bed_takes_no_syringe_off_and_puts_none_on(ward: Ward) -> None:
    """The change that gave way to it had been read; what came on since came when it was found."""
    ward.wait(timedelta(hours=1)).changes(SYRINGE_CHANGE)
    third = {"total_amount": "1.8 mg", "presses": "10", "doses": "9", "left": "24.7 mL"}
    ward.both_read(ward.of_its_patient(changed(answers(), label={"lot": "LOT-9"}, totals=third))).compares()
    starting.note_start_despite_check(ward.site, ward.act(NADIA), ward.check, reason="pain")
    (own,) = misplaced_starts.own_starts(ward.site, ward.act(NADIA))
    said = misplaced_starts.say_elsewhere(ward.site, ward.act(NADIA), own.note)
    assert said == misplaced_starts.SaidElsewhere()
    assert differing(ward) == []
    read = ward.of_its_patient(
        changed(answers(), label={"lot": "LOT-9"}, totals={**third, "presses": "11", "left": "30 mL"})
    )
    ward.wait(timedelta(minutes=20)).re_checks().both_read(read).compares().both_sign()
    infusion = ward.state().check.infusion
    with ward.site.store.read() as reader:
        found = reader.recounted([infusion], **COUNTS)[infusion]
    # Nobody has read what was left of the second.
    assert [(each.name, each.left) for each in found] == [("1", 0), ("2", None), ("3", 30)]
    assert differing(ward) == []


def taken_for_another(event: DrugTakenBack, name: str) -> dict[str, Any]:
    """A fold that takes one volume for another."""
    return {**given_away(event, name), "volume": "3 mL"}


def put_to_another(event: DrugTakenBack, _name: str) -> dict[str, Any]:
    """A fold that puts what was wasted of one syringe to the other."""
    return given_away(event, "2")


def read_wrongly(answers: Answers) -> TotalsRead | None:
    """A fold that takes other totals than those that were read."""
    read = totals_read(answers)
    return read and replace(read, data={**read.data, "totals": {**read.data["totals"], "amount": "1.4 mg"}})


def never_gone(_event: DrugTakenBack, _name: str) -> dict[str, Any]:
    """A fold that makes of it what the engine refuses."""
    return {"kind": "gone"}


BROKEN: tuple[tuple[str, Callable[..., Any], set[str]], ...] = (
    (
        "given_away",
        taken_for_another,
        {
            "syringe 1: wasted is not what was read",
            "syringe 1: left is not what was read",
            "syringe 2: wasted is not what was read",
            "syringe 2: left is not what was read",
        },
    ),
    (
        "given_away",
        put_to_another,
        {
            "syringe 1: wasted is not what was read",
            "syringe 1: left is not what was read",
            "syringe 2: wasted is not what was read",
            "syringe 2: left is not what was read",
        },
    ),
    (
        "totals_read",
        read_wrongly,
        {
            "syringe 1: delivered_by_device is not what was read",
            "syringe 1: difference is not what was read",
        },
    ),
    ("label_content", lambda *_: None, {"its account has other syringes than were read"}),
    ("given_away", never_gone, {"its account cannot be computed"}),
)


def test_a_fold_that_says_something_else_is_named(ward: Ward, monkeypatch: pytest.MonkeyPatch) -> None:
    assert check_invariants(ward.site, ward.now) == ()
    for name, fold, wanted in BROKEN:
        with monkeypatch.context() as broken:
            for module in (account, account_collected):
                broken.setattr(module, name, fold, raising=module is account)
            assert {*differing(ward)} == wanted, fold
            found = check_invariants(ward.site, ward.now)
            of_account = [each.what for each in found if each.invariant is Invariant.ONE_ACCOUNT]
            assert {each.partition(": ")[2] for each in of_account} == wanted
    monkeypatch.setattr(account, "given_away", taken_for_another)
    steps = verify_store(ward.site, ward.now, Wanted(pages=False))
    assert isinstance(steps, Iterator)
    told = [each for each in steps if isinstance(each, Failing) and Invariant.ONE_ACCOUNT.value in each.about]
    assert {each.what.partition(": ")[2] for each in told} == BROKEN[0][2]
    # Which, and never how much.
    assert not any(" mL" in each.says for each in told)


# What is spilt last, of the first infusion; as bytes on either engine.
SPILL_IS_NO_JSON = text(
    """UPDATE log_entry SET canonical = (SELECT head FROM (SELECT substr(canonical, 1, 9) AS head
    FROM log_entry WHERE position = 1) AS first)
    WHERE position = (SELECT max(position) FROM log_entry WHERE kind = 'drug-taken-back')"""
)


def test_a_row_that_cannot_be_read_is_named_and_hides_no_other(ward: Ward) -> None:
    """What is not JSON, and what is, and holds no number where one belongs."""
    infusion = ward.state().check.infusion
    ward.at_stage(Phase.STARTED)
    with as_database_administrator(ward.address) as connection:
        connection.execute(SPILL_IS_NO_JSON)
    assert differing(ward) == ["its account cannot be computed"]
    with ward.site.store.read() as reader:
        (said,) = differing_accounts(reader, ward.now)
        # The snapshot is still of use.
        assert reader.head() > 0
    assert infusion in said


NUMBERS = ("0", "7", "0.5", "12.25", "0.000001", "999999.999999", "123456")


def test_a_text_comes_to_the_same_number_as_everywhere(database_url: str) -> None:
    made = recounted.MADE_OF_TEXT
    of = {
        Dimension.MASS: [("mg", 10**9)],
        Dimension.VOLUME: [("mL", 10**9)],
    }
    texts = {each: [f"{n} {unit}" for n in NUMBERS for unit in units_of(each)] for each in of}
    with open_ward(database_url) as ward, as_database_administrator(ward.address) as connection:
        engine = connection.dialect.name

        def asked(expression: str, written: str) -> int:
            said = expression if engine == "sqlite" else expression.replace("instr(", "strpos(")
            of_text = text(f"SELECT {said} FROM (SELECT '{written}' AS x) AS t")  # noqa: S608  # of this file
            return int(connection.execute(of_text).scalar_one())

        for dimension, ways in of.items():
            for each in texts[dimension]:
                read = parse_quantity(each, dimension, zero_allowed=True)
                assert isinstance(read, Quantity)
                for name, parts in ways:
                    assert asked(made[name]("x"), each) == read.value * parts, each
        for each in (
            *(f"{n} {unit}" for n in NUMBERS[1:] for unit in units_of(Dimension.CONCENTRATION)),
            *(f"{n} {m}/30 {v}" for n in ("6", "0.5") for m in units_of(Dimension.MASS) for v in ("mL", "L")),
        ):
            read = parse_quantity(each, Dimension.CONCENTRATION)
            assert isinstance(read, Quantity)
            mass, volume = (asked(made[part]("x"), each) for part in ("strength-mass", "strength-volume"))
            assert Fraction(mass, volume) == read.value, each


def test_a_number_too_large_for_the_engine_counts_for_nothing() -> None:
    for number in (1.0, float(10**20)):
        with pytest.raises(recounted.RowUnreadable):
            recounted.whole_number(number)
