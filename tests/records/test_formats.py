"""Formats by name and version: what is read is read by the version it says, and an unknown one is refused."""

from datetime import UTC, datetime

import pytest

from app.records.formats import FORMATS, RECORD, Format, UnknownFormat, UnknownFormatError
from app.records.kept import FrozenRecord

NOON = datetime(2031, 5, 2, 12, tzinfo=UTC)
OLD = Format(name="thing", what="the thing", versions=(1, 2))


def test_every_format_has_a_name_of_its_own() -> None:
    assert len({each.name for each in FORMATS}) == len({each.what for each in FORMATS}) == len(FORMATS)
    assert RECORD in FORMATS


def test_what_is_written_says_the_newest_and_older_ones_are_read() -> None:
    assert OLD.newest == "countersign.thing/2"
    assert [OLD.version_of({"format": OLD.said(each)}) for each in OLD.versions] == [1, 2]


def test_what_says_no_format_is_refused() -> None:
    with pytest.raises(UnknownFormatError):
        RECORD.version_of({})


@pytest.mark.parametrize(
    "said", ["countersign.thing/3", "countersign.thing/02", "countersign.other/1", "thing/1", "", 2, ["x"]]
)
def test_a_format_that_is_not_known_is_refused_in_plain_words(said: object) -> None:
    found = OLD.find_version({"format": said})
    assert isinstance(found, UnknownFormat)
    with pytest.raises(UnknownFormatError) as raised:
        OLD.version_of({"format": said})
    assert raised.value.says == str(raised.value) == found.says
    assert found.says.startswith("the thing ")


def test_only_what_looks_like_a_format_is_repeated() -> None:
    ours = UnknownFormat(what="it", said="countersign.thing/3")
    assert ours.is_ours
    assert ours.says == (
        "it has the format countersign.thing/3, which this version of the program does not know"
    )
    for value in ("Nadia Ferrow", "countersign." + "x" * 41, 4, None):
        other = UnknownFormat(what="it", said=value)
        assert not other.is_ours
        assert other.says == "it does not say in which format it is"


def test_a_frozen_record_is_read_by_the_version_that_it_says() -> None:
    def frozen(document: bytes) -> FrozenRecord:
        return FrozenRecord(check="check-1", edition=1, at=NOON, document=document, digest="")

    written = b'{"format":"countersign.record/2","site":"St Rowan"}'
    assert frozen(written).told == {"format": "countersign.record/2", "site": "St Rowan"}
    with pytest.raises(UnknownFormatError):
        _ = frozen(written.replace(b"/2", b"/9")).told
