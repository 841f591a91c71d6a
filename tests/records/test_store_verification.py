"""The answer about a whole database as it grows."""

from dataclasses import replace
from datetime import UTC, datetime

from app.records.store_verification import Began, Failing, Noted, PagesNotAsked, Progress, Tally, Unverified

AT = datetime(2031, 5, 2, 12, 10, tzinfo=UTC)


def test_it_holds_when_it_is_whole_and_nothing_failed() -> None:
    tally = Tally(pages=True)
    assert tally.as_data()["holds"] is False
    tally.add(Progress(entries=90, checks=2, of_checks=2, records=1, position=41))
    tally.whole = True
    said = tally.as_data()
    assert (said["holds"], said["entries"], said["position"]) == (True, 90, 41)


def test_what_is_only_to_be_known_breaks_nothing() -> None:
    tally = Tally(pages=False, whole=True)
    noted = Noted(position=7, at=AT, before=AT.replace(hour=14))
    tally.add(noted)
    assert tally.as_data()["holds"] is True
    assert tally.as_data()["noted"] == [noted.says]
    assert "2031-05-02T12:10:00+00:00" in noted.says


def test_pages_of_another_renderer_break_nothing_and_are_counted() -> None:
    tally = Tally(pages=True, whole=True)
    for edition in (1, 2):
        tally.add(PagesNotAsked(check="check-1", edition=edition))
    assert (tally.as_data()["holds"], tally.as_data()["pages_not_asked"]) == (True, 2)


def test_of_many_failures_the_first_are_kept_and_all_are_counted() -> None:
    tally = Tally(pages=False, whole=True)
    for number in range(Tally.AT_MOST + 5):
        tally.add(Failing(check=f"check-{number}", about="pdf.digest", what="it is another"))
    assert tally.failing[0].says == "check check-0: pdf.digest: it is another"
    assert (len(tally.failing), tally.failures) == (Tally.AT_MOST, Tally.AT_MOST + 5)
    assert tally.as_data()["holds"] is False
    assert Failing(about="log_head.size", what="it is another").says.startswith("the site: ")


def test_with_whom_keys_began_is_said_and_that_they_began_anew_is_to_be_known() -> None:
    tally = Tally(pages=False, whole=True)
    first = Began(position=7, at=AT, number=1, first="Farah Onegin", second="Felix Twombly")
    again = replace(first, position=70, number=2)
    tally.add(first)
    tally.add(again)
    said = tally.as_data()
    assert said["holds"] is True
    assert (said["began"], said["noted"]) == ([first.says], [again.says])
    assert "begin with Farah Onegin and Felix Twombly" in first.says
    assert "began anew, founding 2" in again.says


def test_checks_of_which_nothing_is_known_are_named_and_it_does_not_hold() -> None:
    tally = Tally(pages=False)
    lost = Unverified(first=8, last=41, checks=3, end="signal 9")
    tally.add(lost)

    assert tally.unverified == [lost]
    assert lost.says == (
        "3 checks, opened at the entries 8 to 41: the process that verified them ended (signal 9)"
    )
    assert tally.as_data()["holds"] is False
