"""A record verified from its file and the site's public material alone, and twins that must not verify."""

import json
from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from app.auditing import verifying
from app.auditing.verifying import PublicMaterial, read_material, verify_file
from app.auditing.verifying_contents import computed_again
from app.auditing.verifying_signatures import NotSigned, SignedBy, signature_of
from app.keys import create_site_keys, load_site_keys, public_file
from app.records.canonical import canonical
from app.records.checkpoint import CheckpointFile, Place, file_content
from app.records.verification import Answer, NotReadable, Question, Verification
from app.reports import record
from app.reports.followed_file import open_document
from app.reports.record_file import RecordFile
from app.reports.seal import seal_pdf
from tests.factories.site_keys import owned
from tests.reports import sealed, told
from tests.reports.signed_log import KEYS_MADE, SEALED_AT

# Of what followed one, and of a record of training.
ELSEWHERE = {Question.FOLLOWED, Question.EVENTS, Question.HOLDER, Question.TRAINER, Question.REVIEWED}
ALL = set(Question) - ELSEWHERE


@pytest.fixture(scope="module")
def material(story: sealed.Story) -> PublicMaterial:
    """What the site hands out, once through its files."""
    return handed_out(story, story.checkpoint)


@pytest.fixture(scope="module")
def opened(story: sealed.Story) -> RecordFile:
    """The record's file, taken apart."""
    file = open_document(story.sealed)
    assert isinstance(file, RecordFile)
    return file


def handed_out(story: sealed.Story, checkpoint: CheckpointFile) -> PublicMaterial:
    read = read_material(public_file(story.keys.known).encode(), file_content(checkpoint))
    assert isinstance(read, PublicMaterial)
    return read


def failing(content: bytes, material: PublicMaterial) -> set[Question]:
    """What does not hold."""
    found = verify_file(content, material)
    assert isinstance(found, Verification)
    assert [each.question for each in found.answers] == [each for each in Question if each in ALL]
    assert found.whole
    assert found.holds is all(each.holds for each in found.answers)
    return {each.question for each in found.answers if not each.holds}


# The whole file.


def test_a_record_as_issued_holds_in_every_point(story: sealed.Story, material: PublicMaterial) -> None:
    assert failing(story.sealed, material) == set()


def test_something_appended_is_seen(story: sealed.Story, material: PublicMaterial) -> None:
    assert failing(story.sealed + b"\n", material) == {Question.SEAL, Question.ISSUED}


def test_a_second_seal_over_the_same_pages_is_not_the_issued_file(
    story: sealed.Story, material: PublicMaterial
) -> None:
    later = SEALED_AT + timedelta(seconds=1)
    again = seal_pdf(story.unsealed, sealed.sealer_of(story.keys), at=later, place=sealed.SITE)
    assert again != story.sealed
    assert failing(again, material) == {Question.ISSUED}


def test_exchanged_signatures_are_those_of_nobody(story: sealed.Story, material: PublicMaterial) -> None:
    first, second = story.signatures
    exchanged = (replace(first, jws=second.jws), replace(second, jws=first.jws))
    again = seal_pdf(
        sealed.rendered(story.document, exchanged, story.proof),
        sealed.sealer_of(story.keys),
        at=SEALED_AT,
        place=sealed.SITE,
    )
    assert failing(again, material) == ALL - {Question.SEAL, Question.RECORD, Question.COMPUTED}


def test_pages_that_say_another_dose_than_the_data(
    story: sealed.Story, material: PublicMaterial, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A page with one other word, over the same attachments, under the site's own seal."""
    page = record.record_page(
        story.document, digest=told.digest_of(story.document), signatures=story.signatures
    )
    assert "Nadia Ferrow" in page
    with monkeypatch.context() as patched:
        patched.setattr(record, "record_page", lambda *_, **__: page.replace("Nadia Ferrow", "Nadia Farrow"))
        changed = sealed.rendered(story.document, story.signatures, story.proof)
    again = seal_pdf(changed, sealed.sealer_of(story.keys), at=SEALED_AT, place=sealed.SITE)
    assert failing(again, material) == {Question.ISSUED, Question.PAGES}


def test_pages_laid_out_otherwise_need_only_say_the_same_words(
    story: sealed.Story, material: PublicMaterial, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = record.record_page(
        story.document, digest=told.digest_of(story.document), signatures=story.signatures
    )
    with monkeypatch.context() as patched:
        patched.setattr(record, "record_page", lambda *_, **__: page.replace("</body>", "<i></i></body>"))
        other = sealed.rendered(story.document, story.signatures, story.proof)
    again = seal_pdf(other, sealed.sealer_of(story.keys), at=SEALED_AT, place=sealed.SITE)
    assert failing(again, material) == {Question.ISSUED}


# What is handed in beside it.


def test_a_checkpoint_of_another_site_shows_nothing(story: sealed.Story, tmp_path: Path) -> None:
    create_site_keys(tmp_path, KEYS_MADE, owner=owned("Another hospital (invented)"))
    others = replace(story.log, keys=load_site_keys(tmp_path, SEALED_AT))
    checkpoint = replace(story.checkpoint, checkpoint=others.checkpoint())
    assert failing(story.sealed, handed_out(story, checkpoint)) == {Question.ISSUED}
    unknown = PublicMaterial(certificates=public_file(others.keys.known), checkpoint=story.checkpoint)
    # Nothing is left but what needs no site: the record's form, and its arithmetic.
    assert failing(story.sealed, unknown) == ALL - {Question.RECORD, Question.COMPUTED}


NOT_ITS_PLACE: dict[str, Callable[[Place], Place]] = {
    "another position": lambda place: replace(place, position=place.position - 1),
    "a step left out": lambda place: replace(place, path=place.path[1:]),
    "another step": lambda place: replace(place, path=("0" * 64, *place.path[1:])),
    "another edition": lambda place: replace(place, leaf=place.leaf.replace(b'"edition":1', b'"edition":2')),
    "another check": lambda place: replace(place, leaf=place.leaf.replace(b'"check-1"', b'"check-2"')),
}


@pytest.mark.parametrize("name", NOT_ITS_PLACE)
def test_an_issue_that_the_log_does_not_hold(
    story: sealed.Story, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Making the pages again is slow, and the log knows nothing of them.
    same = Answer(question=Question.PAGES, holds=True, says="")
    monkeypatch.setattr(verifying, "pages_say_the_same", lambda *_: same)
    change = NOT_ITS_PLACE[name]
    changed = {digest: change(place) for digest, place in story.checkpoint.issued.items()}
    assert changed != story.checkpoint.issued
    material = handed_out(story, replace(story.checkpoint, issued=changed))
    assert failing(story.sealed, material) == {Question.ISSUED}


def test_what_cannot_be_read_is_said_and_not_judged(story: sealed.Story, material: PublicMaterial) -> None:
    site, checkpoint = public_file(story.keys.known).encode(), file_content(story.checkpoint)
    for content in (b"", b"%PDF-1.7\n", story.sealed[:9000]):
        assert isinstance(verify_file(content, material), NotReadable)
    for changed in (b"", b"\xff", story.keys.checkpoint.certificate.encode()):
        assert isinstance(read_material(changed, checkpoint), NotReadable)
    for changed in (b"", b"{}", checkpoint[:-1], checkpoint.replace(b'"size"', b'"sise"')):
        assert isinstance(read_material(site, changed), NotReadable)


# Each clinician's signature.


def test_each_signed(story: sealed.Story, opened: RecordFile) -> None:
    for given in story.signatures:
        found = signature_of(given.letter, opened)
        assert isinstance(found, SignedBy)
        assert (found.header.user_id, found.header.signed_at) == (given.person, given.signed_at)


def _other_record(file: RecordFile) -> RecordFile:
    document = {**file.document, "edition": 2}
    return replace(file, record=canonical(document), document=document)


def _key(file: RecordFile, **changed: Any) -> RecordFile:  # noqa: ANN401
    """The entries about the first nurse's key with something in the place of another."""
    return _nth_key(file, FIRST_NURSE_S, **changed)


# In the order in which they were confirmed.
ONE_FOUNDER_S, OTHER_FOUNDER_S, FIRST_NURSE_S, SECOND_NURSE_S = range(4)


def _nth_key(file: RecordFile, number: int, **changed: Any) -> RecordFile:  # noqa: ANN401
    assert file.proof is not None
    keys = list(file.proof.keys)
    keys[number] = replace(keys[number], **changed)
    return replace(file, proof=replace(file.proof, keys=tuple(keys)))


def _without_key(file: RecordFile, number: int) -> RecordFile:
    assert file.proof is not None
    keys = (each for place, each in enumerate(file.proof.keys) if place != number)
    return replace(file, proof=replace(file.proof, keys=tuple(keys)))


def _foundings(file: RecordFile, *places: Place) -> RecordFile:
    assert file.proof is not None
    return replace(file, proof=replace(file.proof, foundings=places))


def _leaf(  # noqa: PLR0917  # read in one line where it is used
    file: RecordFile, name: str, old: bytes, new: bytes, number: int = FIRST_NURSE_S
) -> RecordFile:
    """One word of an entry about a key written otherwise."""
    assert file.proof is not None
    place: Place = getattr(file.proof.keys[number], name)
    assert old in place.leaf
    return _nth_key(file, number, **{name: replace(place, leaf=place.leaf.replace(old, new))})


def _signature_a(file: RecordFile, text: str) -> RecordFile:
    return replace(file, signatures={**file.signatures, "A": text})


def _renamed(file: RecordFile, name: str, value: str) -> RecordFile:
    """The record names its first clinician otherwise; what is signed stays."""
    document = deepcopy(file.document)
    document["clinicians"][0][name] = value
    return replace(file, document=document)


NOT_SIGNED: dict[str, Callable[[Any], RecordFile]] = {
    "none": lambda file: replace(file, signatures={"B": file.signatures["B"]}),
    "another last letter": lambda file: replace(
        file, signatures={**file.signatures, "A": file.signatures["A"][:-1] + "-"}
    ),
    "no signature at all": lambda file: _signature_a(file, "é"),
    "no proof": lambda file: replace(file, proof=None),
    "another byte of the record": lambda file: replace(file, record=file.record + b" "),
    "another edition": _other_record,
    "another person": lambda file: _renamed(file, "person", "person-tomas"),
    "another name": lambda file: _renamed(file, "printed_name", "Nadia Farrow"),
    "another staff number": lambda file: _renamed(file, "staff_number", "DM-2002"),
    "no clinicians": lambda file: replace(file, document={**file.document, "clinicians": []}),
    "another record": lambda file: replace(file, document={**file.document, "record": "check-2"}),
    "no entry about the key": lambda file: _without_key(file, FIRST_NURSE_S),
    "the other's key": lambda file: _key(file, made=file.proof.keys[SECOND_NURSE_S].made),
    "the other's confirmation": lambda file: _key(file, confirmed=file.proof.keys[SECOND_NURSE_S].confirmed),
    "no entry about the confirmer's key": lambda file: _without_key(file, ONE_FOUNDER_S),
    "no entry about the other founder's key": lambda file: _without_key(file, OTHER_FOUNDER_S),
    "no founding": _foundings,
    "a founding that is something else": lambda file: _foundings(file, file.proof.place),
    "an entry about something else": lambda file: _key(file, confirmed=file.proof.place),
    "another issuer": lambda file: _leaf(file, "made", b"person-issuer", b"person-someone"),
    "another statement": lambda file: _leaf(file, "confirmed", b"face to face", b"over the phone"),
    "another algorithm": lambda file: _leaf(
        file, "made", b'"algorithm":"Ed25519"', b'"algorithm":"Ed25518"', ONE_FOUNDER_S
    ),
}


@pytest.mark.parametrize("name", NOT_SIGNED)
def test_a_signature_that_cannot_be_shown(opened: RecordFile, name: str) -> None:
    changed = NOT_SIGNED[name](opened)
    assert changed != opened
    assert isinstance(signature_of("A", changed), NotSigned)


# Computing again.


def last_round(document: dict[str, Any]) -> dict[str, Any]:
    compared: list[dict[str, Any]] = [each for each in document["rounds"] if "comparison" in each]
    return compared[-1]


def _another_severity(document: dict[str, Any]) -> None:
    last_round(document)["comparison"]["findings"][0]["severity"] = "caution"


def _another_finding(document: dict[str, Any]) -> None:
    del last_round(document)["comparison"]["findings"][0]


def _another_verdict(document: dict[str, Any]) -> None:
    last_round(document)["comparison"]["verdict"] = "stopped"


def _another_dose(document: dict[str, Any]) -> None:
    math = last_round(document)["comparison"]["math"]["A"]["order"]
    math["demand_volume"]["exact"] += "1"


def _another_reading(document: dict[str, Any]) -> None:
    last_round(document)["readings"]["B"]["device"]["demand_dose"] = "20 mg"


def _another_case(document: dict[str, Any]) -> None:
    last_round(document)["case"]["entries"][0]["device"]["demand_dose"] = "20 mg"


def _another_priming(document: dict[str, Any]) -> None:
    document["priming"][0]["within"] = not document["priming"][0]["within"]


def _nothing_compared(document: dict[str, Any]) -> None:
    document["rounds"] = []


DIFFERENT = [
    _another_severity,
    _another_finding,
    _another_verdict,
    _another_dose,
    _another_reading,
    _another_case,
    _another_priming,
    _nothing_compared,
]


def test_every_round_comes_out_the_same(story: sealed.Story) -> None:
    assert computed_again(story.document).holds


@pytest.mark.parametrize("change", DIFFERENT)
@pytest.mark.parametrize("engine", ["", "0.0.1"], ids=["this engine", "another engine"])
def test_what_does_not_come_out_is_seen(
    story: sealed.Story, change: Callable[[dict[str, Any]], None], engine: str
) -> None:
    document = deepcopy(story.document)
    change(document)
    for each in document["rounds"]:
        if engine:
            each["comparison"]["engine"] = engine
    assert not computed_again(document).holds


def test_another_engine_may_say_it_in_other_words(story: sealed.Story) -> None:
    document = deepcopy(story.document)
    finding = last_round(document)["comparison"]["findings"][0]
    finding["says"] += " In other words."
    assert not computed_again(document).holds
    for each in document["rounds"]:
        each["comparison"]["engine"] = "0.0.1"
    found = computed_again(document)
    assert found.holds
    assert "0.0.1" in found.says


def test_the_answers_as_data_hold_nothing_of_the_patient(
    story: sealed.Story, material: PublicMaterial
) -> None:
    found = verify_file(story.sealed, material)
    assert isinstance(found, Verification)
    written = json.dumps(found.as_data())
    wristband = last_round(story.document)["readings"]["A"]["wristband"]
    assert wristband["identifier"]
    assert not any(value in written for value in wristband.values())
