"""The words for people: whatever the rules know has a word, and a number is never misread."""

import pytest

from app.comparison import CaseError, read_case
from app.comparison.findings import SEVERITIES as CODES_OF_ENGINE
from app.comparison.findings import Group
from app.comparison.wording import SLIPS
from app.records.field_table import TABLE
from app.records.fields import FIELDS
from app.records.followup import OF_ACCOUNT, OF_PATIENT, Severity
from app.records.formats import CASE
from app.records.kept_orders import OrderOnRecord
from app.records.kind import Kind
from app.records.kinds import DEVICE_CHANGE, END_OF_PCA, KINDS, RE_CHECK, SET_UP, SYRINGE_CHANGE
from app.records.outcomes import NAMED, OUTCOMES, Outcome, Then, read_after
from app.records.settled import How
from app.records.sources import CAN_BE_PUT_RIGHT, Field, Form, Source
from app.records.state import ENDED, PUT_RIGHT_MEANWHILE, Phase
from app.words import checking, names, reading, screens


@pytest.mark.parametrize("each", TABLE, ids=lambda each: str(each.name))
def test_a_finding_is_said_with_the_label_of_its_field(each: Field) -> None:
    wanted = "Concentration" if each.name == "strength" else each.label

    assert names.finding_field_words(each.finding) == wanted


@pytest.mark.parametrize(("field", "words"), [("amount_per_hour", "Most in 1 h"), ("drug", "Drug")])
def test_what_is_computed_has_words_of_its_own(field: str, words: str) -> None:
    assert names.finding_field_words(field) == words


@pytest.mark.parametrize("source", Source)
def test_every_source_has_its_words(source: Source) -> None:
    assert screens.source_words(source.value)
    assert (source.value in checking.PUT_RIGHT) is (source in CAN_BE_PUT_RIGHT)
    assert reading.GUIDES[source]
    assert (source in reading.SCAN_HINTS) is any(each.from_scan for each in FIELDS[source])


@pytest.mark.parametrize("each", TABLE, ids=lambda each: str(each.name))
def test_every_choice_has_its_words(each: Field) -> None:
    choices = {*each.choices, *(one for some in each.choices_in.values() for one in some)}

    assert choices <= names.ANSWERS.keys()
    assert names.none_words(each.name) == (each.none or next(iter(each.none_in.values()), ""))


def test_no_number_stands_in_a_hint() -> None:
    # An example would tell the reader what to expect; the form of a date is none.
    hints = {hint for each in TABLE for hint in (each.hint, *each.hint_in.values())}

    assert not [hint for hint in hints if any(sign.isdigit() for sign in hint)]


@pytest.mark.parametrize(
    ("answer", "words"),
    [("yes", "Yes"), ("1000 mcg", "1,000 mcg"), ("HYDROmorphone", "HYDROmorphone"), ("none", "None")],
)
def test_an_answer_for_people(answer: str, words: str) -> None:
    assert names.answer_words(answer) == words


@pytest.mark.parametrize("code", CODES_OF_ENGINE)
def test_every_code_has_its_words(code: str) -> None:
    assert checking.code_words(code) == checking.CODES[code]


def test_a_code_of_an_older_engine_is_said_as_it_stands() -> None:
    assert checking.code_words("no-longer-found") == "no longer found"


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_never_stated_as_a_fact(slip: str) -> None:
    assert checking.slip_words(slip) == f"Consistent with {SLIPS[slip]}"


def test_no_slip_is_not_said() -> None:
    assert checking.slip_words("") == ""


@pytest.mark.parametrize("how", How)
def test_however_a_finding_came_to_rest_there_are_words(how: How) -> None:
    assert checking.settled_words(how.value)


def test_where_help_was_given_it_is_said_beside() -> None:
    said = checking.settled_words("put right", "device-reprogrammed")
    assert said == "Put right, read again and agreed (device reprogrammed)"


def test_a_voided_reading_says_why_without_a_word_of_what_was_seen() -> None:
    assert [checking.voided_words(each) for each in ("", "it leaks", PUT_RIGHT_MEANWHILE)] == [
        "",
        "voided: somebody saw danger and said so",
        "voided: put right while it was read",
    ]


@pytest.mark.parametrize("outcome", OUTCOMES)
@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda each: each.name)
def test_each_outcome_has_words_and_says_what_follows(outcome: Outcome, kind: Kind) -> None:
    fits = outcome.then is not Then.READ or read_after(outcome, kind)
    assert not fits or checking.outcome_choice(outcome, kind)


def test_an_outcome_to_choose_says_what_is_read_again() -> None:
    said = checking.outcome_choice(NAMED["identity-resolved"], KINDS["syringe-change"])
    assert said == "Patient identity resolved: both read the wristband and the label again, alone"


def test_what_was_decided_is_said_in_the_words_that_were_offered() -> None:
    assert checking.outcome_words("order-clarified") == "Order clarified with the prescriber"
    assert checking.help_asked_words(is_taken=False, by="").startswith("Help was asked for: nobody has taken")
    assert checking.help_asked_words(is_taken=True, by="Ana") == "Help was asked for: Ana has the request."
    assert checking.help_asked_words(is_taken=True, by="").endswith("a third person has the request.")
    assert checking.why_words("patient") == "Something about the patient worries me"
    assert checking.abandon_words("time") == "No time for it now"


def test_what_somebody_wrote_is_said_as_it_was_written() -> None:
    assert checking.why_words("the bed is wet") == "the bed is wet"
    assert checking.abandon_words("the bed is wet") == "the bed is wet"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 s"),
        (59, "59 s"),
        (60, "1 min"),
        (119, "1 min"),
        (3599, "59 min"),
        (3600, "1 h 0 min"),
        (7380, "2 h 3 min"),
    ],
)
def test_a_stretch_of_time(seconds: int, words: str) -> None:
    assert checking.spell(seconds) == words


@pytest.mark.parametrize("severity", Severity)
def test_a_stop_on_what_runs_is_no_longer_a_start_forbidden(severity: Severity) -> None:
    before, running = (names.severity_words(severity.value, kind) for kind in (SET_UP, RE_CHECK))

    assert (before == running) is (severity is not Severity.STOP)
    assert severity is not Severity.STOP or (before, running) == ("DO NOT START", "ACT NOW")


@pytest.mark.parametrize("kind", KINDS)
def test_a_kind_has_its_words(kind: str) -> None:
    assert screens.kind_words(kind) == KINDS[kind].words
    named = names.named_within(kind)
    assert (named[0].islower(), named[1:]) == (True, KINDS[kind].words[1:])
    assert names.named_as_one(kind) == f"{'an' if named[0] == 'e' else 'a'} {named}"


@pytest.mark.parametrize(
    ("factor", "loud", "quiet"),
    [
        ("", "", ""),
        ("1", "", ""),
        ("1.02", "", "1.02 times"),
        ("0.51", "", "0.51 times"),
        ("1.99", "", "1.99 times"),
        ("2", "TWICE", ""),
        ("0.5", "HALF", ""),
        ("10", "TEN TIMES", ""),
        ("1,000", "A THOUSAND TIMES", ""),
        ("7.5", "7.5 TIMES", ""),
        ("1,234", "1,234 TIMES", ""),
    ],
)
def test_a_ratio_is_loud_from_twice_or_half_on(factor: str, loud: str, quiet: str) -> None:
    assert (names.loud_times(factor), names.quiet_times(factor)) == (loud, quiet)


@pytest.mark.parametrize(("number", "words"), [(1, "reading 1"), (10, "reading 10"), (11, "reading 11")])
def test_which_reading_it_is(number: int, words: str) -> None:
    assert names.round_words(number) == words


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        (("order",), "order"),
        (("order", "label"), "order and label"),
        (("order", "label", "device"), "order, label and device"),
    ],
)
def test_a_list(parts: tuple[str, ...], words: str) -> None:
    assert names.listed(parts) == words


@pytest.mark.parametrize(
    ("said", "unbroken"),
    [
        ("every 10 min, 0.2 mg each", "every 10~min, 0.2~mg each"),
        ("at 90 % and 8 /min", "at 90~% and 8~/min"),
        ("2 minutes", "2 minutes"),
        ("ward 4 East", "ward 4 East"),
    ],
)
def test_no_line_break_parts_a_number_from_its_unit(said: str, unbroken: str) -> None:
    assert screens.unbroken(said) == unbroken.replace("~", "\N{NO-BREAK SPACE}")


def test_only_a_quantity_is_asked_in_units() -> None:
    assert all(bool(each.units) is (each.form is Form.QUANTITY) for each in TABLE)


def test_whatever_nobody_looked_at_has_its_words() -> None:
    entries: list[object] = [{"clinician": each, "patient": {}} for each in ("first", "second")]
    # Of a site that has set nothing, in a check that reads no chart.
    case = read_case({"format": CASE.newest, "reads": ["wristband"], "entries": entries})
    assert not isinstance(case, CaseError)

    assert set(case.not_judged) == checking.NOT_JUDGED.keys()
    assert checking.not_judged_words(()) == ""
    assert checking.not_judged_words(["age", "weight"]) == "Not judged here: a high age and a low weight."


def test_beds_are_told_in_short() -> None:
    assert screens.no_such_bed(()) == "This unit has no beds yet: an administrator adds them."
    told = screens.no_such_bed(("1", "2", "3", "7", "8", "Bay 2"))
    assert told == "This unit has no such bed. It has: 1 to 3, 7, 8, Bay 2."


def test_what_runs_elsewhere_is_said_before_what_to_do_there() -> None:
    for told in (
        checking.not_signed_words("It runs at bed 7."),
        checking.not_started_words("It runs at bed 7."),
    ):
        assert "It runs at bed 7. Look there at patient" in told
    assert checking.not_started_words("").startswith("DO NOT START")


def test_every_group_of_cautions_has_its_words() -> None:
    assert all(checking.group_words(each) for each in Group)


@pytest.mark.parametrize(
    ("beds", "short"),
    [
        ((), ""),
        (("1",), "1"),
        # Two are two, and only what follows each other is drawn together.
        (("1", "2"), "1, 2"),
        (("1", "2", "3", "5", "7", "8", "9"), "1 to 3, 5, 7 to 9"),
        (("4a", "4b", "Bay 1", "10", "11", "12"), "4a, 4b, Bay 1, 10 to 12"),
    ],
)
def test_beds_that_follow_each_other_are_said_in_short(beds: tuple[str, ...], short: str) -> None:
    assert screens.in_short(beds) == short


def test_a_unit_without_such_a_bed_says_which_it_has() -> None:
    assert screens.no_such_bed(("1", "2", "3")) == "This unit has no such bed. It has: 1 to 3."
    assert screens.no_such_bed(()) == "This unit has no beds yet: an administrator adds them."


def test_the_two_of_a_record_are_told_in_little_room() -> None:
    assert [names.nurse_words(each) for each in ("A", "B", "the engine")] == ["1st", "2nd", "the engine"]


def test_what_became_of_a_check_has_words() -> None:
    said = {each: checking.became_words(each.value) for each in ENDED}

    assert said[Phase.DONE] == "signed by both"
    assert said[Phase.STARTED] == "signed by both, and started"
    assert said[Phase.LED] == "led to another check"


@pytest.mark.parametrize("severity", Severity)
def test_a_finding_of_the_account_is_about_the_patient_or_settled_before_signing(severity: Severity) -> None:
    assert names.severity_words(severity.value, RE_CHECK, OF_PATIENT) == "ACT NOW"
    assert names.severity_words(severity.value, RE_CHECK, OF_ACCOUNT) == "SETTLE BEFORE SIGNING"


def test_where_to_look_for_totals_is_said_of_a_device_that_stands_and_of_one_that_runs() -> None:
    kinds = (RE_CHECK, SYRINGE_CHANGE, END_OF_PCA)
    running, standing, ending = (reading.guide_words(kind, Source.TOTALS) for kind in kinds)

    assert running == reading.GUIDES[Source.TOTALS] != standing
    assert standing == ending == "From the device and the barrel, in one go."


def test_at_the_end_the_device_is_stopped_before_its_totals_are_read() -> None:
    assert reading.first_words(END_OF_PCA, Source.TOTALS).startswith("First stop the device")


def test_what_is_read_again_when_there_is_a_new_one_is_that_of_the_old_one() -> None:
    why = "Read only these again."

    assert reading.again_words(SYRINGE_CHANGE, Source.TOTALS, why).endswith("that of the old syringe.")
    assert reading.again_words(DEVICE_CHANGE, Source.TOTALS, why).endswith("of the old device.")
    assert reading.again_words(SYRINGE_CHANGE, Source.LABEL, why) == why
    assert reading.again_words(RE_CHECK, Source.TOTALS, why) == why


def test_what_comes_before_a_source_is_said_in_a_change_alone() -> None:
    assert reading.first_words(SYRINGE_CHANGE, Source.LABEL).startswith("Now the next syringe, once both")
    assert reading.first_words(RE_CHECK, Source.LABEL) == reading.first_words(SET_UP, Source.LABEL) == ""


def test_the_order_on_record_is_named_with_when_it_came() -> None:
    order = OrderOnRecord(id="1", order="urn:x|A-1", sender="Orders", received_at="", digest="")
    said = checking.on_record_words(order, "2 May 2031, 14:10")
    assert said == "Compared also with the order on record: A-1 of Orders, received 2 May 2031, 14:10."
