"""Blindness: two worlds that differ only in what one nurse read look the same to everybody else.

Until both have handed in nobody can tell the worlds apart; while their readings differ the other nurse learns
which fields of which sources to read again, and nobody else learns anything; until the check is cleared or
abandoned no list, log or export tells. Commitments are salted and count as equal by position.
"""

import json
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.records.reading import Answers
from app.records.sources import Source
from app.records.state import Phase
from app.workflow import export_apart, helping, opening, reading, settling, signing, starting, stepping
from app.workflow.export_jobs import Job
from app.workflow.exporting import Span, ask_for_export
from app.workflow.exporting import Wanted as WantedExport
from app.workflow.findings import Wanted, past_findings
from app.workflow.listing import unit_list
from app.workflow.looking import see_check, see_pdf, see_record
from app.workflow.sweeping import sweep_once
from tests.factories.answers import answers
from tests.story.people import ADELE, IMOGEN, NADIA, PETRA, QUILL, RALPH, RUTH, TOMAS, Somebody
from tests.story.ward import BEGAN, DIFFERING, Ward, open_ward
from tests.support.sampling import examples

OTHERS = (TOMAS, IMOGEN, RUTH, RALPH, PETRA, QUILL, ADELE)
OUTSIDE = tuple(each for each in OTHERS if each is not TOMAS)

OBSERVED = stepping.Observed(sedation="0", respiratory_rate="14 /min", spo2="97 %")


@dataclass
class Worlds:
    """Two wards in which the same is done by the same people at the same times, but for what Nadia reads."""

    one: Ward
    other: Ward
    read: tuple[Answers, Answers] = field(default_factory=lambda: (answers(), answers()))

    def both(self, act: Callable[[Ward], object]) -> tuple[object, object]:
        """Do it in both worlds."""
        return act(self.one), act(self.other)

    def nadia_reads(self) -> None:
        """The only difference."""
        for ward, read in zip((self.one, self.other), self.read, strict=True):
            ward.reads(NADIA, read)

    def nadia_drafts(self) -> None:
        """The only difference, before it is handed in."""
        for ward, read in zip((self.one, self.other), self.read, strict=True):
            ward.drafts(NADIA, read)


def observed(ward: Ward, who: Somebody) -> dict[str, object]:
    """Everything that the workflow hands to one person, and to an operator who reads the log."""
    site = ward.site
    span = Span(first=BEGAN.date(), last=BEGAN.date())
    wanted = WantedExport(span=span, form="jsonl")
    asked = ask_for_export(site, ward.act(who), who.roles, wanted)
    seen: dict[str, object] = {
        "list": unit_list(site, ward.act(who)),
        "check": see_check(site, ward.act(who), ward.check),
        "record": see_record(site, ward.act(who), ward.check),
        "pdf": see_pdf(site, ward.act(who), ward.check),
        "findings": past_findings(site, ward.act(who), who.roles, Wanted()),
        "export": exported(asked) if isinstance(asked, Job) else asked,
        "log": log_of(ward),
    }
    if who is TOMAS:
        seen["desk"] = reading.open_desk(site, ward.act(who), ward.check)
    return seen


@pytest.fixture(autouse=True)
def _exports_are_made_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(export_apart, "start", export_apart.make_here)


def exported(job: Job) -> bytes:
    file = job.find_file()
    assert file is not None
    return file.read_bytes()


def log_of(ward: Ward) -> list[dict[str, Any]]:
    """The log as it is stored, commitments by position."""
    with ward.site.store.read() as reader:
        written = [json.loads(each.canonical) for each in reader.log_entries(after=0, limit=10_000)]
    for each in written:
        if "commitment" in each["data"]:
            each["data"]["commitment"] = "a commitment"
    return written


@pytest.fixture
def worlds(sqlite_url: str, tmp_path: Path) -> Iterator[Worlds]:
    """Two wards on two databases."""
    second = tmp_path / "second.sqlite3"
    shutil.copyfile(sqlite_url.removeprefix("sqlite:///"), second)
    with ExitStack() as stack:
        yield Worlds(
            one=stack.enter_context(open_ward(sqlite_url)),
            other=stack.enter_context(open_ward(f"sqlite:///{second}")),
        )


def assert_alike(worlds: Worlds, *people: Somebody) -> None:
    """Nobody of these can tell the worlds apart."""
    for who in people:
        one, other = worlds.both(lambda ward, who=who: observed(ward, who))  # type: ignore[misc]  # bound now
        assert one == other, who.id


# What Nadia reads in the one world and in the other.
PAIRS: dict[str, tuple[Answers, Answers]] = {
    "ten times": (answers(), DIFFERING),
    "another drug, another patient": (
        answers(),
        answers(order={"drug": "morphine"}, wristband={"identifier": "DM-1", "birth_date": "1999-01-01"}),
    ),
    "nothing but one field": (
        answers(),
        {source.value: {} for source in Source} | {"device": {"lockout": "10 min"}},
    ),
    "long and short": (
        answers(label={"lot": "L"}),
        answers(label={"lot": "LOT-" + "7" * 60, "code": "0" * 80}),
    ),
    "a line of its own": (
        answers(),
        answers(order={"carrier_fluid": "none", "carrier_rate": None}, device={"carrier_fluid": "none"}),
    ),
}


@pytest.mark.parametrize("pair", PAIRS)
def test_until_both_have_handed_in_nobody_can_tell(worlds: Worlds, pair: str) -> None:
    worlds.read = PAIRS[pair]
    worlds.both(lambda ward: ward.opens().joins())
    worlds.nadia_drafts()
    assert_alike(worlds, *OTHERS)
    worlds.both(lambda ward: reading.hand_in(ward.site, ward.act(NADIA), ward.check))
    assert_alike(worlds, *OTHERS)
    worlds.both(lambda ward: ward.drafts(TOMAS, answers()))
    assert_alike(worlds, *OTHERS)


@pytest.mark.parametrize("pair", PAIRS)
def test_nor_by_what_anyone_tries(worlds: Worlds, pair: str) -> None:
    worlds.read = PAIRS[pair]
    worlds.both(lambda ward: ward.opens().joins())
    worlds.nadia_reads()

    def tries(ward: Ward) -> list[object]:
        site, check = ward.site, ward.check
        said: list[object] = []
        for who in (*OTHERS, NADIA):
            said += [
                opening.join_check(site, ward.act(who), check),
                settling.read_again(site, ward.act(who), check, touched=("device",), why=""),
                settling.acknowledge(
                    site, ward.act(who), check, findings=("x",), reasons=("stopped",), named="", text=""
                ),
                helping.take_help(site, ward.act(who), who.roles, check),
                stepping.take_steps(
                    site, ward.act(who), check, stepping.Given(done=("connected", "set-primed"))
                ),
                stepping.take_steps(site, ward.act(who), check, stepping.Given(observed=OBSERVED)),
                signing.sign_record(
                    site, ward.act(who), check, login=who.login, secret=who.secret, digest="x"
                ),
                starting.start_infusion(site, ward.act(who), check),
            ]
        said.append(sweep_once(site, ward.wait().now, holder="sweeper"))
        return said

    one, other = worlds.both(tries)
    assert one == other
    assert_alike(worlds, *OTHERS)


@pytest.mark.parametrize("pair", PAIRS)
def test_after_the_comparison_nobody_outside_can_tell_whether_they_agree(worlds: Worlds, pair: str) -> None:
    worlds.read = PAIRS[pair]
    worlds.both(lambda ward: ward.opens().joins())
    worlds.nadia_reads()
    worlds.both(lambda ward: ward.reads(TOMAS).compares())
    assert worlds.one.state().findings != worlds.other.state().findings

    assert_alike(worlds, *OUTSIDE)


@pytest.mark.parametrize(
    "pair",
    [
        PAIRS["ten times"],
        (answers(), answers(totals={"total_amount": "6 mg", "presses": "40", "doses": "21", "left": "0 mL"})),
    ],
    ids=["device", "totals"],
)
def test_whether_a_re_check_comes_together_is_told_on_no_list(
    worlds: Worlds, pair: tuple[Answers, Answers]
) -> None:
    """What runs is no exception: what one alone read may be wrong, and tells what the other did not."""
    worlds.read = pair
    worlds.both(lambda ward: ward.at_stage(Phase.STARTED).re_checks())
    worlds.nadia_reads()
    assert_alike(worlds, *OTHERS)
    worlds.both(lambda ward: ward.reads(TOMAS).compares())
    assert worlds.both(lambda ward: ward.phase) == (Phase.SIGNING, Phase.DISPUTED)

    for who in OUTSIDE:
        one, other = worlds.both(lambda ward, who=who: unit_list(ward.site, ward.act(who)))  # type: ignore[misc]  # bound now
        assert one == other


def test_what_both_read_to_be_wrong_while_it_runs_is_told_to_the_unit_at_once(worlds: Worlds) -> None:
    """The twin: the lists do differ where they may."""
    worlds.both(lambda ward: ward.at_stage(Phase.STARTED).re_checks())
    for ward, read in zip((worlds.one, worlds.other), PAIRS["ten times"], strict=True):
        ward.both_read(read).compares()

    one, other = worlds.both(
        lambda ward: [each.progress for each in unit_list(ward.site, ward.act(RUTH)).unit]
    )
    assert (one, other) == (["in progress"], ["ACT NOW"])


# Different values that differ from the other's in the same fields.
SAME_FIELDS = (DIFFERING, answers(device={"demand_dose": "0.4 mg"}))


def test_while_readings_differ_the_other_learns_the_fields_and_nothing_else(worlds: Worlds) -> None:
    worlds.read = SAME_FIELDS
    worlds.both(lambda ward: ward.opens().joins())
    worlds.nadia_reads()
    worlds.both(lambda ward: ward.reads(TOMAS).compares())

    for ward in (worlds.one, worlds.other):
        assert ward.state().phase is Phase.DISPUTED
    # By how much, in which direction, with which consequence: nothing of it, whatever else the engine found.
    assert {len(ward.state().findings) for ward in (worlds.one, worlds.other)} != {1}
    assert_alike(worlds, *OTHERS)
    worlds.both(lambda ward: ward.reads_again(TOMAS))
    assert_alike(worlds, *OTHERS)
    worlds.nadia_reads()
    assert_alike(worlds, *OTHERS)


def test_help_asked_for_in_a_dispute_tells_nobody_but_the_helper(worlds: Worlds) -> None:
    worlds.read = SAME_FIELDS
    worlds.both(lambda ward: ward.opens().joins())
    worlds.nadia_reads()
    worlds.both(lambda ward: ward.reads(TOMAS).compares().asks_for_help(NADIA).takes_help(PETRA))

    assert_alike(worlds, TOMAS, IMOGEN, RUTH, RALPH, QUILL, ADELE)
    one, other = worlds.both(lambda ward: observed(ward, PETRA))
    assert one != other
    worlds.both(lambda ward: ward.settles_help("read-again", PETRA))
    assert_alike(worlds, TOMAS, IMOGEN, RUTH, RALPH, QUILL, ADELE)


def test_what_is_settled_while_they_read_tells_nobody_what_was_read(worlds: Worlds) -> None:
    worlds.both(lambda ward: ward.opens().joins())
    worlds.nadia_reads()
    worlds.both(
        lambda ward: ward.asks_for_help(TOMAS).takes_help(PETRA).settles_help("order-clarified", PETRA)
    )
    assert_alike(worlds, TOMAS, PETRA, IMOGEN, RUTH, RALPH, QUILL, ADELE)


@pytest.mark.parametrize("phase", [Phase.STEPS, Phase.SIGNING])
def test_once_agreed_only_the_two_know_on_what(worlds: Worlds, phase: Phase) -> None:
    # Two agreed set-ups with other doses.
    dose = {"demand_dose": "0.3 mg"}
    both = (answers(), answers(order=dose, device=dose))
    for ward, read in zip((worlds.one, worlds.other), both, strict=True):
        ward.opens().joins().both_read(read).compares()
        if phase is Phase.SIGNING:
            ward.confirms_all()
        assert ward.state().phase is phase

    one, other = worlds.both(lambda ward: observed(ward, TOMAS))
    assert one != other
    # The digest of a frozen record is in the log: it covers both readings, so few doses are not few digests.
    for who in OUTSIDE:
        without_digest = [_without_digest(observed(ward, who)) for ward in (worlds.one, worlds.other)]
        assert without_digest[0] == without_digest[1], who.id


def _without_digest(seen: dict[str, object]) -> str:
    return re.sub(r"\b[0-9a-f]{64}\b", "a digest", repr(seen))


def test_the_test_can_fail(worlds: Worlds) -> None:
    worlds.read = PAIRS["ten times"]
    worlds.both(lambda ward: ward.opens().joins())
    worlds.nadia_reads()
    worlds.both(lambda ward: ward.reads(TOMAS).compares().abandons(TOMAS))

    # From the end on the unit, the pharmacist and the quality team see it.
    for who in (IMOGEN, RUTH, PETRA, QUILL):
        one, other = worlds.both(lambda ward, who=who: observed(ward, who))  # type: ignore[misc]  # bound now
        assert one != other
    assert_alike(worlds, RALPH, ADELE)


TEXT = st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=40)
LEFT_OUT = st.sampled_from([(source, name) for source, read in answers().items() for name in read])


@pytest.mark.timeout(900)
@settings(
    max_examples=examples(sample=8, whole=100),
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(lot=TEXT, identifier=TEXT, dropped=st.sets(LEFT_OUT, max_size=6))
def test_whatever_is_read_nobody_can_tell(
    worlds: Worlds, lot: str, identifier: str, dropped: set[tuple[str, str]]
) -> None:
    other = answers(label={"lot": lot}, wristband={"identifier": identifier})
    for source, name in dropped:
        other[source].pop(name, None)
    worlds.read = (answers(), other)
    worlds.both(lambda ward: ward.opens().joins())
    worlds.nadia_reads()

    assert_alike(worlds, TOMAS, RUTH, QUILL)
