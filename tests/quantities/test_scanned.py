"""What a GS1 code says: GS1 General Specifications, for sections see each test.

The company prefix 9501101 and the product number 09501101530003 are GS1's own for examples; lots are made up.
"""

from calendar import monthrange
from datetime import date

import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st

from app.quantities import Fault
from app.quantities.scanned import SEPARATOR, SHOWN_SEPARATOR, ScanFault, read_scan

TODAY = date(2026, 11, 26)
PRODUCT = "09501101530003"
PATIENT = "950110153000123454"
GS = SEPARATOR
LABEL = f"01{PRODUCT}1728020010AB-123"
SAYS_LABEL = {"code": PRODUCT, "use_by": "2028-02-29", "lot": "AB-123"}


def fault_of(text: str, today: date = TODAY) -> str:
    """The code of the fault that a text has."""
    read = read_scan(text, today)
    assert isinstance(read, Fault), read
    assert read.says.endswith(".")
    return read.code


# Section 5.5 and following, symbology identifiers after ISO/IEC 15424; FNC1 in the first place is not data.
@pytest.mark.parametrize("before", ["", "]d2", "]C1", "]Q3", "]e0", "]J1", GS, f"]C1{GS}", f"]d2{GS}{GS}"])
@pytest.mark.parametrize("after", ["", GS, "\n", "\r\n"])
def test_a_scan_may_begin_and_end_as_scanners_send_it(before: str, after: str) -> None:
    assert read_scan(before + LABEL + after, TODAY) == SAYS_LABEL


# Of all signs that cannot be seen only that one parts what a code says.
def test_no_other_separator_of_information_is_taken_for_it() -> None:
    assert fault_of(f"\x1e{LABEL}") == ScanFault.NOT_GS1
    assert fault_of(f"10AB-123{GS}\x1e01{PRODUCT}") == ScanFault.UNREADABLE_PART


@pytest.mark.parametrize("before", ["", " ", "\n "])
def test_what_people_read_beside_a_code_may_begin_with_spaces(before: str) -> None:
    assert read_scan(f"{before}(01){PRODUCT}(17)280200(10)AB-123", TODAY) == SAYS_LABEL


# Section 7.8.6: FNC1 ends a text of variable length; after one of fixed length it may stand.
@pytest.mark.parametrize(
    "text",
    [
        f"10AB-123{GS}17280200{GS}01{PRODUCT}",
        f"10AB-123{GS}{GS}01{PRODUCT}17280200",
        f"10AB-123{GS}01{PRODUCT}17280200217",
        f"01{PRODUCT}217{GS}10AB-123{GS}1128010117280200",
        f"10AB-123{SHOWN_SEPARATOR}01{PRODUCT}17280200",
    ],
)
def test_the_parts_come_in_any_order(text: str) -> None:
    assert read_scan(text, TODAY) == SAYS_LABEL


@pytest.mark.parametrize("read", ["bytes", "text"])
@pytest.mark.parametrize("kind", ["DataMatrix", "QRCode", "Code128"])
def test_a_code_that_another_library_drew_and_read(kind: str, read: str) -> None:
    bracketed = f"(01){PRODUCT}(17)280200(10)AB-123(21)7"
    made = zxingcpp.create_barcode(bracketed, getattr(zxingcpp.BarcodeFormat, kind), gs1=True)
    (found,) = zxingcpp.read_barcodes(made.to_image(scale=3, add_quiet_zones=True))
    sent = found.symbology_identifier + found.bytes.decode("ascii")

    assert read_scan(sent if read == "bytes" else found.text, TODAY) == SAYS_LABEL
    assert GS in sent


# Section 4.14: in print each identifier stands in brackets, which are no part of the code.
@pytest.mark.parametrize(
    ("text", "says"),
    [
        (f"(01){PRODUCT}(17)280200(10)AB-123", SAYS_LABEL),
        (f"(01) {PRODUCT}\n(17) 280200 (10) AB-123 ", SAYS_LABEL),
        ("(10)A(B)-1(17)280200", {"lot": "A(B)-1", "use_by": "2028-02-29"}),
        (f"(8018){PATIENT}", {"identifier": PATIENT}),
    ],
)
def test_a_code_as_people_read_it(text: str, says: dict[str, str]) -> None:
    assert read_scan(text, TODAY) == says


@pytest.mark.parametrize(
    "text", ["(17)280200(10)", "(17)2802001(10)A", "(99999)1", "(05)1(10)A", "(171)280200"]
)
def test_a_part_in_brackets_that_is_none_spoils_the_code(text: str) -> None:
    assert fault_of(text) in {ScanFault.UNREADABLE_PART, ScanFault.NOT_GS1}


# Section 3, AI (17): the day 00 is the last one of the month.
@pytest.mark.parametrize(
    ("coded", "means"),
    [
        ("280229", "2028-02-29"),
        ("280200", "2028-02-29"),
        ("270200", "2027-02-28"),
        ("281200", "2028-12-31"),
        ("280400", "2028-04-30"),
    ],
)
def test_a_use_by_date(coded: str, means: str) -> None:
    assert read_scan(f"17{coded}", TODAY) == {"use_by": means}


@pytest.mark.parametrize(
    "text",
    [
        "17270229",
        "17280431",
        "17280001",
        "70032800011530",
        "70032802001530",
        "70032802012400",
        "70032802011560",
    ],
)
def test_a_date_that_does_not_exist(text: str) -> None:
    assert fault_of(text) == ScanFault.NO_SUCH_DATE


# Section 7.12, by its own words: the two digits less those of the current year; 51 to 99 is the century
# before, -99 to -50 the one after.
@pytest.mark.parametrize(
    ("this_year", "coded", "year"),
    [
        (2026, "76", 2076),
        (2026, "77", 1977),
        (2026, "00", 2000),
        (2026, "99", 1999),
        (2060, "09", 2109),
        (2060, "10", 2110),
        (2060, "11", 2011),
        (2099, "00", 2100),
        (2100, "99", 2099),
    ],
)
def test_the_century_of_two_digits(this_year: int, coded: str, year: int) -> None:
    assert read_scan(f"17{coded}0615", date(this_year, 1, 1)) == {"use_by": f"{year}-06-15"}


@given(
    day=st.dates(min_value=date(1900, 1, 1)),
    today=st.dates(min_value=date(1950, 1, 1), max_value=date(9000, 1, 1)),
)
def test_every_date_within_the_window_comes_back(day: date, today: date) -> None:
    meant = next(year for year in range(today.year - 49, today.year + 51) if year % 100 == day.year % 100)
    if day.day > monthrange(meant, day.month)[1]:
        assert fault_of(f"17{day:%y%m%d}", today) == ScanFault.NO_SUCH_DATE
        return
    assert read_scan(f"17{day:%y%m%d}", today) == {"use_by": day.replace(year=meant).isoformat()}


# Section 3.8.4, AI (7003): expiration date and time, as on what a pharmacy makes to last for hours.
def test_a_use_by_with_its_time() -> None:
    assert read_scan("70032802011530", TODAY) == {"use_by": "2028-02-01 15:30"}
    assert read_scan("70032811231530", TODAY) == {"use_by": "2028-11-23 15:30"}
    assert read_scan(f"1728020170032802011530{GS}10A", TODAY) == {"use_by": "2028-02-01 15:30", "lot": "A"}
    assert fault_of("1728020270032802011530") == ScanFault.CONTRADICTION


# Section 7.9.1; 12345678901231 and 123456789012345675 are from GS1's own Barcode Syntax Tests (csum).
@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("0112345678901231", {"code": "12345678901231"}),
        (f"01{PRODUCT}", {"code": PRODUCT}),
        ("8018123456789012345675", {"identifier": "123456789012345675"}),
        (f"]d28018{PATIENT}{GS}80191", {"identifier": PATIENT}),
    ],
)
def test_a_number_with_its_check_digit(text: str, says: dict[str, str]) -> None:
    assert read_scan(text, TODAY) == says


@pytest.mark.parametrize(
    "text",
    [
        "0112345678901232",
        "8018123456789012345670",
        "0109501101530004",
        f"(01){PRODUCT[:-1]}2",
        "0105901101530003",
    ],
)
def test_a_wrong_check_digit(text: str) -> None:
    assert fault_of(text) == ScanFault.CHECK_DIGIT


@pytest.mark.parametrize(
    "text", [f"01{PRODUCT}0510", f"17280200{GS}0510A", f"10A{GS}(17)280200", f"]d217280200{GS}7"]
)
def test_an_unknown_identifier_spoils_the_whole_code(text: str) -> None:
    assert fault_of(text) == ScanFault.UNREADABLE_PART


# A lot has at most twenty signs (section 3, AI (10)); what follows can only be after a separator.
@pytest.mark.parametrize(
    "text",
    [
        f"10AB-12317280200{LABEL}",
        f"10{'A' * 20}17280200",
        f"10{'A' * 21}",
        f"1728020010{'A' * 20}B",
        f"8018{PATIENT}80191",
        LABEL + LABEL,
    ],
)
def test_a_variable_part_without_its_separator(text: str) -> None:
    assert fault_of(text) == ScanFault.NO_SEPARATOR


def test_a_lot_of_twenty_signs_is_a_lot() -> None:
    assert read_scan(f"10{'A' * 20}", TODAY) == {"lot": "A" * 20}


@pytest.mark.parametrize("between", ["\n", " ", "\r\n", "\t ", "]d2", "\n]C1"])
def test_several_codes_of_one_syringe(between: str) -> None:
    assert read_scan(f"]C101{PRODUCT}{between}1728020010AB-123", TODAY) == SAYS_LABEL
    assert read_scan(LABEL + between + LABEL, TODAY) == SAYS_LABEL


@pytest.mark.parametrize(
    "text",
    [f"{LABEL}\n10AB-124", f"{LABEL}]d217280228", f"{LABEL} 0112345678901231", "(10)A(10)B", f"10A{GS}10B"],
)
def test_codes_that_contradict_each_other(text: str) -> None:
    assert fault_of(text) == ScanFault.CONTRADICTION


@pytest.mark.parametrize(
    "text",
    [
        "hello",
        "0.2",
        "Lot AB-123",
        "]E09501101530003",
        "]d1" + LABEL,
        "]",
        "(",
        "()",
        "(10 A",
        "http://example.org/01",
        "05",
        "17" + "\N{ARABIC-INDIC DIGIT TWO}" * 6,
        "10é",
    ],
)
def test_what_is_no_gs1_code(text: str) -> None:
    assert fault_of(text) == ScanFault.NOT_GS1


# AI (00) is a pallet's, (8017) a clinician's own: neither says who the patient is, or what is in the syringe.
@pytest.mark.parametrize("text", ["", "]d2", GS, "00123456789012345675", f"8017{PATIENT}", "217", "95abc"])
def test_a_code_that_says_nothing_for_a_reading(text: str) -> None:
    assert read_scan(text, TODAY) == {}


_SIGNS = st.text(st.sampled_from("0123456789()]dCQ[]AZ. " + GS + SHOWN_SEPARATOR), max_size=60)
_BEGINS = st.sampled_from(["", "01", "10", "17", "7003", "8018", "3909", "310", "414", "(", "]d2", LABEL])


@given(begins=_BEGINS, rest=_SIGNS | st.text(max_size=60), today=st.dates())
def test_no_text_is_more_than_it_can_bear(begins: str, rest: str, today: date) -> None:
    """Any text gives fields that can be typed, or a fault that can be said; never an error."""
    read = read_scan(begins + rest, today)
    if isinstance(read, Fault):
        assert read.code in set(ScanFault)
    else:
        assert set(read) <= {"lot", "use_by", "code", "identifier"}
        assert all(text.isascii() and text.isprintable() and text.strip() == text for text in read.values())
