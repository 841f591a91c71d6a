"""A person's name as somebody typed it."""

import pytest

from app.quantities import LONGEST_NAME, LONGEST_NUMBER, Fault, read_name, read_printed_number


@pytest.mark.parametrize(
    "name",
    [
        "Ana Lind",
        "O'Neill-Brandt, Jr.",
        "Đặng Thị Hương",
        "Ольга Шевченко",
        "王小明",
        "محمد رضا",
        # Persian joins with a sign of its own.
        "علی\N{ZERO WIDTH NON-JOINER}رضا",
        "अनिता",
        "Þóra Ægisdóttir III",
    ],
)
def test_a_name_of_any_script_stays_as_it_is(name: str) -> None:
    assert read_name(name) == name


def test_two_ways_of_typing_one_letter_become_one() -> None:
    assert read_name("Zoe\N{COMBINING DIAERESIS}") == "Zo\N{LATIN SMALL LETTER E WITH DIAERESIS}"


@pytest.mark.parametrize(
    "typed", ["  Ana \t  Lind\n", "Ana\N{NO-BREAK SPACE}Lind", "Ana\N{LINE SEPARATOR}Lind"]
)
def test_between_words_stands_one_space(typed: str) -> None:
    assert read_name(typed) == "Ana Lind"


def test_blank_is_no_name() -> None:
    assert read_name(" \t") == ""


@pytest.mark.parametrize(
    "sign",
    [
        # They turn the direction of what follows, on a page and in a list.
        "\N{RIGHT-TO-LEFT OVERRIDE}",
        "\N{LEFT-TO-RIGHT ISOLATE}",
        "\N{RIGHT-TO-LEFT MARK}",
        "\N{ZERO WIDTH SPACE}",
        "\N{SOFT HYPHEN}",
        "\x00",
        "\x1b",
        "\x7f",
        "\ud800",
        "\ue000",
        "\U0010ffff",
    ],
    ids=ascii,
)
def test_what_cannot_be_seen_is_refused(sign: str) -> None:
    read = read_name(f"Ana{sign}Lind")

    assert isinstance(read, Fault)
    assert read.says == "This holds a sign that cannot be seen. Type the name by hand."


def test_it_has_a_longest() -> None:
    assert read_name("A" * LONGEST_NAME) == "A" * LONGEST_NAME
    read = read_name("A" * (LONGEST_NAME + 1))
    assert isinstance(read, Fault)
    assert read.says == "Write at most 80 signs of the name."


# ---------------------------------------------------------------------------------------------------------
# A printed number

UNSEEN = "This holds a sign that cannot be seen. Type the number by hand."


@pytest.mark.parametrize(
    ("typed", "read"), [("  RX  20-417 ", "RX 20-417"), ("", ""), ("e\N{COMBINING ACUTE ACCENT}1", "é1")]
)
def test_a_printed_number_stays_as_it_is_in_one_form(typed: str, read: str) -> None:
    assert read_printed_number(typed) == read


@pytest.mark.parametrize(
    ("typed", "code", "says"),
    [
        ("7" * (LONGEST_NUMBER + 1), "too-long", "Write at most 40 signs of the number."),
        ("7\N{ZERO WIDTH JOINER}1", "unprintable", UNSEEN),
        ("7\N{RIGHT-TO-LEFT OVERRIDE}1", "unprintable", UNSEEN),
        ("- -", "no-number", "A number has letters or digits. Leave it blank where there is none."),
    ],
)
def test_what_is_no_printed_number_is_refused(typed: str, code: str, says: str) -> None:
    read = read_printed_number(typed)

    assert isinstance(read, Fault)
    assert (read.code, read.says) == (code, says)


def test_the_longest_printed_number_is_taken() -> None:
    assert read_printed_number("7" * LONGEST_NUMBER) == "7" * LONGEST_NUMBER
