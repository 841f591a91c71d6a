"""A record of an older format verifies by its frozen list of facts; what is not in it has a reason."""

import re
from collections.abc import Iterator
from functools import partial
from typing import Any

import pytest

from app.auditing.invariants import Broken, check_invariants, stored_of_check
from app.auditing.older_records import FACTS
from app.auditing.recomputing import Stored, differing_in_record, logged
from app.records.canonical import canonical
from app.records.formats import RECORD, UnknownFormatError
from app.records.kept import FrozenRecord
from app.records.state import Phase
from app.site import record
from app.storage import Reader
from app.workflow import freezing
from tests.factories.answers import answers
from tests.samples.older import records_of_version_1, written_as_before
from tests.story.people import NADIA, PETRA, TOMAS
from tests.story.ward import Ward, written_anew
from tests.story.whole_life import whole_life

# What no row and no event says.
NO_FACT = {
    r"cautions\[\d\]": "sentences that every record has",
    r"clinicians\[\d\]\.part": "what the slot is called",
    r"rounds\[\d\]\.independence\..*": "computed from the hand-ins and the looks, which stand beside it",
}


def considered(ward: Ward) -> Ward:
    """A rule set aside, a caution acknowledged by both."""
    high = {"demand_dose": "0.8 mg", "limit_amount": "4 mg"}
    ward.opens().joins()
    ward.both_read(answers(order=high, device=high, chart={"sedatives": "charted"})).compares()
    ward.asks_for_help().takes_help(PETRA).grants("above-hard-limit", PETRA).settles_help("other", PETRA)
    for code in sorted({each.code for each in ward.state().findings if each.severity == "caution"}):
        ward.acknowledges(NADIA, code).acknowledges(TOMAS, code)
    return ward.confirms_all()


@pytest.fixture(params=[whole_life, considered], ids=["a whole life", "considered"])
def older(request: pytest.FixtureRequest, sqlite_url: str) -> Iterator[Ward]:
    """A check of two editions with help and a voided round, or with an exception; frozen as version 1."""
    with records_of_version_1(), written_anew(sqlite_url) as ward:
        yield request.param(ward)


def stored_in(ward: Ward, reader: Reader) -> Stored:
    stored = stored_of_check(ward.site, reader, ward.check, now=ward.now, log=logged(reader))
    assert not isinstance(stored, Broken)
    return stored


def leaves(document: Any, where: str = "") -> Iterator[tuple[str, Any, Any]]:  # noqa: ANN401  # any JSON
    """Every value that is no list and no object: where it is, and what holds it under which key."""
    pairs = document.items() if isinstance(document, dict) else enumerate(document)
    for key, value in list(pairs):
        named = f"{where}.{key}".lstrip(".") if isinstance(document, dict) else f"{where}[{key}]"
        if isinstance(value, dict | list) and value:
            yield from leaves(value, named)
        else:
            yield named, document, key


def another(value: Any) -> Any:  # noqa: ANN401  # any JSON
    return value + "a" if isinstance(value, str) else [value] if isinstance(value, list | dict) else not value


def test_every_older_format_has_its_list_and_the_newest_has_none() -> None:
    assert list(FACTS) == list(RECORD.versions[:-1])


def test_records_of_version_1_verify(older: Ward) -> None:
    with older.site.store.read() as reader:
        frozen = stored_in(older, reader).frozen
    assert {each.told["format"] for each in frozen} == {"countersign.record/1"}
    assert check_invariants(older.site, older.now) == ()


def test_every_value_of_it_is_a_row_or_an_event_or_has_a_reason(older: Ward) -> None:
    with older.site.store.read() as reader:
        stored = stored_in(older, reader)
        for kept in stored.frozen:
            document = dict(kept.told)
            unseen = set()
            for where, holder, key in leaves(document):
                value = holder[key]
                holder[key] = another(value)
                if not _differing(reader, stored, kept, document):
                    unseen.add(where)
                holder[key] = value
            assert not _differing(reader, stored, kept, document)
            reasons = {where: [each for each in NO_FACT if re.fullmatch(each, where)] for where in unseen}
            assert [where for where, found in reasons.items() if not found] == []
            assert {each for found in reasons.values() for each in found} == NO_FACT.keys()


def _differing(reader: Reader, stored: Stored, kept: FrozenRecord, document: dict[str, Any]) -> bool:
    changed = FrozenRecord(
        check=kept.check, edition=kept.edition, at=kept.at, document=canonical(document), digest=kept.digest
    )
    try:
        return bool(list(differing_in_record(reader, stored, changed)))
    except (UnknownFormatError, LookupError, TypeError, ValueError, AttributeError):
        # A value of another kind cannot be compared; whoever verifies says so.
        return True


def test_a_name_too_many_is_found(older: Ward) -> None:
    with older.site.store.read() as reader:
        stored = stored_in(older, reader)
        (kept, *_) = stored.frozen
        assert _differing(reader, stored, kept, {**kept.told, "more": ""})


def test_everything_written_before_it_said_its_version_verifies(sqlite_url: str) -> None:
    with written_as_before(), written_anew(sqlite_url) as ward:
        whole_life(ward)
        ward.at_stage(Phase.CLEARED)
        assert check_invariants(ward.site, ward.now) == ()
        with ward.site.store.read() as reader:
            # The names are those of the rows: the log has none.
            assert reader.naming_entries() == ()
            assert not any(b'"format"' in each for each in reader.leaves(after=0, up_to=reader.head()))


def test_a_sentence_that_is_worded_otherwise_today_is_no_fault(
    sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    otherwise = partial(record.document_of, cautions=("It said something else then.",))
    monkeypatch.setattr(freezing, "document_of", otherwise)
    with written_anew(sqlite_url) as ward:
        ward.at_stage(Phase.CLEARED)
        with ward.site.store.read() as reader:
            (kept,) = stored_in(ward, reader).frozen
        assert kept.told["cautions"] == ["It said something else then."]
        assert check_invariants(ward.site, ward.now) == ()
