"""What followed a record, verified from its file and in the store; each flipped fact in it is found."""

import json
import shutil
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from app.auditing import recomputing
from app.auditing.invariants import check_invariants
from app.auditing.recomputing import Stored, followed_again, logged
from app.auditing.verifying import PublicMaterial, read_material, verify_file
from app.auditing.verifying_followed import is_in_log
from app.auditing.verifying_store import Wanted, verify_store
from app.records.canonical import canonical
from app.records.kept import KeptFollowed
from app.records.store_verification import Failing
from app.records.verification import About, Question, Verification
from app.reports.followed_file import FollowedFile, open_document
from app.storage import Reader
from tests.story.followed import ends, followed, handed_out, sweeps
from tests.story.ward import Ward, open_ward


@dataclass(frozen=True, kw_only=True)
class Told:
    """One that was told, rendered and sealed for real, and what the site hands out."""

    kept: KeptFollowed
    ward: Ward
    material: PublicMaterial
    file: FollowedFile

    def stored(self, reader: Reader) -> Stored:
        """Everything that is stored of its check."""
        stored = recomputing.load_stored(
            self.ward.site, reader, self.ward.check, now=self.ward.now, log=logged(reader)
        )
        assert stored is not None
        return stored


@pytest.fixture(scope="module")
def told(_migrated_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Told]:
    path = tmp_path_factory.mktemp("followed") / "ward.sqlite3"
    shutil.copyfile(_migrated_sqlite, path)
    with open_ward(f"sqlite:///{path}") as ward:
        ends(ward)
        before = signed_things(ward)
        swept = sweeps(ward)
        assert (swept.issued, swept.told) == (1, 1)
        assert signed_things(ward) == before
        material = read_material(*handed_out(ward))
        assert isinstance(material, PublicMaterial)
        (kept,) = followed(ward)
        file = open_document(kept.content)
        assert isinstance(file, FollowedFile)
        yield Told(kept=kept, ward=ward, material=material, file=file)


def signed_things(ward: Ward) -> tuple[object, ...]:
    """What both signed of the check at hand."""
    with ward.site.store.read() as reader:
        return reader.frozen_records(ward.check), reader.signatures(ward.check)


# The file alone


def answers(content: bytes, material: PublicMaterial) -> dict[Question, bool | None]:
    found = verify_file(content, material)
    assert isinstance(found, Verification)
    assert found.about is About.FOLLOWED
    return {each.question: each.holds for each in found.answers}


def test_the_file_verifies_with_the_public_material_alone(told: Told) -> None:
    assert answers(told.kept.content, told.material) == dict.fromkeys(
        (Question.SEAL, Question.ISSUED, Question.PAGES, Question.FOLLOWED, Question.EVENTS), True
    )


def test_the_least_change_of_the_file_is_found(told: Told) -> None:
    content = bytearray(told.kept.content)
    content[len(content) // 2] ^= 1

    found = verify_file(bytes(content), told.material)

    assert not isinstance(found, Verification) or not found.holds


def test_a_record_is_no_word_for_what_followed_it(told: Told) -> None:
    with told.ward.site.store.read() as reader:
        pdf = reader.find_pdf(told.ward.check, 1)
    assert pdf is not None
    found = verify_file(pdf.content, told.material)
    assert isinstance(found, Verification)
    assert (found.holds, found.about) == (True, About.RECORD)


def test_it_names_the_record_that_it_follows_by_digest(told: Told) -> None:
    with told.ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(told.ward.check)

    assert told.kept.told["follows"] == frozen.digest
    assert told.file.written == told.kept.document


def leaves(document: Any, where: str = "") -> Iterator[tuple[str, Any, Any]]:  # noqa: ANN401  # any JSON
    """Every value: where it is, and what holds it under which key."""
    pairs = document.items() if isinstance(document, dict) else enumerate(document)
    for key, value in list(pairs):
        named = f"{where}.{key}".lstrip(".")
        if isinstance(value, dict | list) and value:
            yield from leaves(value, named)
        else:
            yield named, document, key


def another(value: Any) -> Any:  # noqa: ANN401  # any JSON
    if isinstance(value, bool):
        return not value
    return value + 1 if isinstance(value, int) else value + "a" if isinstance(value, str) else [value]


def test_each_flipped_fact_of_an_event_is_found_by_its_entry_in_the_log(told: Told) -> None:
    document = deepcopy(told.file.document)
    file = replace(told.file, document=document)
    assert is_in_log(file, is_signed=True).holds
    unseen = []
    for where, holder, key in leaves(document["entries"]):
        value = holder[key]
        holder[key] = another(value) if not where.endswith(".at") else "2031-05-02T00:00:00+00:00"
        if is_in_log(file, is_signed=True).holds:
            unseen.append(where)
        holder[key] = value
    # A name is for people; the account that it is of is held.
    assert {each.rpartition(".")[2] for each in unseen} == {"by"}
    for name in ("record", "edition", "follows"):
        assert not is_in_log(replace(file, document={**document, name: "other"}), is_signed=True).holds
    cut: list[Any] = [[], document["entries"][1:], document["entries"][:-1]]
    for entries in cut:
        assert not is_in_log(replace(file, document={**document, "entries": entries}), is_signed=True).holds


def test_a_checkpoint_that_the_site_did_not_sign_shows_nothing(told: Told) -> None:
    assert not is_in_log(told.file, is_signed=False).holds
    assert not is_in_log(replace(told.file, shown=None), is_signed=True).holds


# The store


def test_each_flipped_fact_is_found_by_what_is_stored(told: Told) -> None:
    with told.ward.site.store.read() as reader:
        stored = told.stored(reader)
        assert followed_again(reader, stored, told.kept) == told.kept.document
        document = json.loads(told.kept.document)
        unseen = set()
        for where, holder, key in leaves(document):
            value = holder[key]
            holder[key] = another(value)
            changed = replace(told.kept, document=canonical(document))
            try:
                again = followed_again(reader, stored, changed)
            except Exception:  # noqa: BLE001  # what is damaged is found in any way
                again = None
            if again == changed.document:
                unseen.add(where.partition(".")[0] if where != "log.until" else where)
            holder[key] = value
    # Sentences are no facts; how far the log was told is held by the digest in the log.
    assert unseen == {"says", "log.until"}


def test_the_store_with_it_verifies(told: Told) -> None:
    steps = verify_store(told.ward.site, told.ward.now, Wanted(pages=False))
    assert isinstance(steps, Iterator)
    assert [each for each in steps if isinstance(each, Failing)] == []
    assert check_invariants(told.ward.site, told.ward.now) == ()
