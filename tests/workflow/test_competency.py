# ruff: noqa: ANN401  # any part of what is given to sign
"""The record of checks on training cards: signed by its person and by a trainer, sealed, and verified."""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from click.testing import CliRunner

from app.auditing.verifying import PublicMaterial, read_material, verify_file
from app.cli import main
from app.people import Role
from app.records.canonical import digest as digest_of
from app.records.kept_people import KeptCompetency
from app.records.verification import About, Question, Verification
from app.review.competency import read_record
from app.review.errors import Error
from app.review.mixes import Mix
from app.site.installation import founded
from app.workflow.competency import OwnRecord, RecordSigned, Signing, sign_as_trainer, sign_own_record
from app.workflow.own_signature import OtherRecord
from app.workflow.refusals import NotFound, NotYours, WrongCredential
from app.workflow.training_cards import Cards, deal_cards
from app.workflow.training_record import (
    EverybodyTrained,
    OneTrained,
    OwnTraining,
    everybody_trained,
    find_file,
    one_trained,
    own_training,
)
from tests.factories.site_keys import INSTALLATION
from tests.story.followed import handed_out, sweeps
from tests.story.people import IMOGEN, NADIA, QUILL, RUTH, TOMAS, Somebody
from tests.story.ward import Ward, open_ward
from tests.workflow.test_training_outcome import expected, on, opens, set_with

LOCKOUT = Mix(name="lockout", weights={Error.LOCKOUT: 1}, source="")
TRAINERS = frozenset({Role.TRAINER})
RECORD = "competency-nadia"


def make_school(ward: Ward) -> Ward:
    with ward.site.store.write() as tx:
        tx.append(founded(ward.site.key, INSTALLATION, training=True), at=ward.now)
    assert isinstance(deal_cards(ward.site, ward.now, seed="2", mix=LOCKOUT, sets=1), Cards)
    return ward


@pytest.fixture
def school(sqlite_url: str) -> Iterator[Ward]:
    with open_ward(sqlite_url) as ward:
        yield make_school(ward)


def trains(ward: Ward) -> None:
    """Both do a check on cards: the second reads what was ordered, and not what is set."""
    number, made = set_with(ward, Error.LOCKOUT)
    opens(ward, number)
    ward.joins().reads(NADIA, on(made)).reads(TOMAS, expected(made)).compares().abandons()


def own(ward: Ward, who: Somebody = NADIA) -> OwnTraining:
    found = own_training(ward.site, ward.act(who))
    assert isinstance(found, OwnTraining)
    return found


def signs(ward: Ward, who: Somebody = NADIA, **given: Any) -> object:
    to_sign = own(ward, who).to_sign
    digest = to_sign.digest if to_sign else ""
    signing = replace(Signing(login=who.login, secret=who.secret, digest=digest), **given)
    return sign_own_record(ward.site, ward.act(who), signing)


def reviews(ward: Ward, who: Somebody = RUTH, *, roles: frozenset[Role] = TRAINERS, **given: Any) -> object:
    """Nadia's last record, as a trainer."""
    digest = next((digest_of(each.content) for each in own(ward).editions), "")
    signing = replace(Signing(login=who.login, secret=who.secret, digest=digest), **given)
    return sign_as_trainer(ward.site, ward.act(who), signing, roles=roles, person="nadia")


@dataclass(frozen=True, kw_only=True)
class Sealed:
    """One that both signed, rendered and sealed for real."""

    ward: Ward
    kept: KeptCompetency
    material: PublicMaterial
    public: tuple[bytes, bytes]


@pytest.fixture(scope="module")
def sealed(_migrated_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Sealed]:
    path = tmp_path_factory.mktemp("school") / "ward.sqlite3"
    shutil.copyfile(_migrated_sqlite, path)
    with open_ward(f"sqlite:///{path}") as ward:
        make_school(ward)
        trains(ward)
        assert signs(ward) == RecordSigned()
        assert reviews(ward) == RecordSigned()
        swept = sweeps(ward)
        assert swept.failed == ()
        kept = find_file(ward.site, ward.act(NADIA), roles=NADIA.roles, person="nadia", edition=1)
        assert isinstance(kept, KeptCompetency)
        public = handed_out(ward)
        material = read_material(*public)
        assert isinstance(material, PublicMaterial)
        yield Sealed(ward=ward, kept=kept, material=material, public=public)


def answers(content: bytes, material: PublicMaterial) -> dict[Question, bool | None]:
    found = verify_file(content, material)
    assert isinstance(found, Verification)
    assert (found.about, found.record, found.edition) == (About.COMPETENCY, RECORD, 1)
    return {each.question: each.holds for each in found.answers}


def test_what_both_signed_verifies_by_the_public_material_alone(sealed: Sealed) -> None:
    asked = (
        Question.SEAL,
        Question.ISSUED,
        Question.RECORD,
        Question.HOLDER,
        Question.TRAINER,
        Question.REVIEWED,
        Question.PAGES,
    )
    assert answers(sealed.kept.content, sealed.material) == dict.fromkeys(asked, True)


def test_the_command_verifies_it_like_any_sealed_file(sealed: Sealed, tmp_path: Path) -> None:
    names = ("training.pdf", "site.pem", "checkpoint.json")
    for name, content in zip(names, (sealed.kept.content, *sealed.public), strict=True):
        (tmp_path / name).write_bytes(content)
    file, site, checkpoint = (str(tmp_path / name) for name in names)
    ran = CliRunner().invoke(main, ["verify", file, "--site", site, "--checkpoint", checkpoint])

    assert ran.exit_code == 0, ran.output
    assert ran.output.startswith(f"Checks on training cards, record {RECORD}, edition 1\n")
    assert "EVERYTHING HOLDS." in ran.output


@pytest.mark.parametrize(
    ("was", "becomes"),
    [
        # What was caught, and whose it is.
        (b'"caught":true', b'"caught":null'),
        (b'"printed_name":"Nadia', b'"printed_name":"Nadja'),
    ],
)
def test_another_document_in_the_file_is_signed_by_nobody(
    sealed: Sealed, tmp_path: Path, was: bytes, becomes: bytes
) -> None:
    file = tmp_path / "changed.pdf"
    file.write_bytes(sealed.kept.content)
    with pikepdf.open(file, allow_overwriting_input=True) as pdf:
        attached = pdf.attachments["competency.json"].get_file()
        written = attached.read_bytes()
        assert was in written
        attached.obj.write(written.replace(was, becomes))
        pdf.save(file)
    found = answers(file.read_bytes(), sealed.material)

    assert {each for each, holds in found.items() if holds is False} == {
        Question.HOLDER,
        Question.TRAINER,
        Question.REVIEWED,
        Question.SEAL,
        Question.ISSUED,
        Question.PAGES,
    }


def test_a_sealed_record_is_there_for_its_person_and_for_trainers_alone(sealed: Sealed) -> None:
    ward = sealed.ward

    def finds(who: Somebody, roles: frozenset[Role]) -> bool:
        found = find_file(ward.site, ward.act(who), roles=roles, person="nadia", edition=1)
        return isinstance(found, KeptCompetency)

    assert finds(NADIA, NADIA.roles)
    assert finds(RUTH, TRAINERS)
    assert not finds(TOMAS, TOMAS.roles)
    assert not finds(QUILL, QUILL.roles)


def test_it_is_signed_once_until_another_check_has_ended(school: Ward) -> None:
    assert own(school).to_sign is None
    assert signs(school, digest="any") == OtherRecord()
    trains(school)
    first = own(school).to_sign
    assert first is not None
    assert signs(school) == RecordSigned()
    assert signs(school, digest=first.digest) == OtherRecord()
    assert own(school).to_sign is None
    (edition,) = own(school).editions
    assert edition.competency == own(school).competency
    assert read_record(edition.document).caught == own(school).competency.caught


def test_each_signs_with_the_own_id_and_secret_and_the_trainer_for_another(school: Ward) -> None:
    trains(school)
    assert isinstance(signs(school, secret="another"), WrongCredential)
    assert signs(school, login=TOMAS.login, secret=TOMAS.secret) == NotYours()
    assert reviews(school) == NotFound()
    assert signs(school) == RecordSigned()
    assert reviews(school, roles=RUTH.roles) == NotFound()
    assert reviews(school, who=NADIA) == OwnRecord()
    assert reviews(school, login=IMOGEN.login, secret=IMOGEN.secret) == NotYours()
    assert reviews(school, digest="another") == OtherRecord()
    assert reviews(school) == RecordSigned()
    assert reviews(school) == OtherRecord()


def test_a_trainer_sees_who_trained_and_what_is_missed_of_checks_that_have_ended_alone(school: Ward) -> None:
    def everybody() -> EverybodyTrained:
        found = everybody_trained(school.site, school.act(RUTH), TRAINERS)
        assert isinstance(found, EverybodyTrained)
        return found

    number, made = set_with(school, Error.LOCKOUT)
    opens(school, number)
    school.joins().reads(NADIA, on(made)).reads(TOMAS, expected(made)).compares()
    # One of the two may be the trainer: until the end there is nothing to be seen for them either.
    assert (everybody().checks, everybody().people, everybody().missed) == (0, (), ())
    school.abandons()
    found = everybody()

    assert found.checks == 1
    assert [(each.printed_name, each.waits) for each in found.people] == [
        ("Nadia Ferrow", False),
        ("Tomas Osmund", False),
    ]
    (missed,) = found.missed
    assert (missed.error, missed.read, missed.missed) == (Error.LOCKOUT, 2, 1)
    one = one_trained(school.site, school.act(RUTH), roles=TRAINERS, person="tomas")
    assert isinstance(one, OneTrained)
    assert [each.caught for each in one.competency.lines] == [False]
    for who in (NADIA, QUILL):
        assert everybody_trained(school.site, school.act(who), who.roles) == NotFound()
        assert one_trained(school.site, school.act(who), roles=who.roles, person="tomas") == NotFound()


def test_where_patients_are_nothing_of_it_is_there(sqlite_url: str) -> None:
    with open_ward(sqlite_url) as ward:
        trainer = replace(RUTH, roles=TRAINERS)
        act = ward.act(trainer)
        assert everybody_trained(ward.site, act, TRAINERS) == NotFound()
        assert one_trained(ward.site, act, roles=TRAINERS, person="nadia") == NotFound()
        assert find_file(ward.site, act, roles=TRAINERS, person="nadia", edition=1) == NotFound()
        signing = Signing(login=RUTH.login, secret=RUTH.secret, digest="any")
        assert sign_own_record(ward.site, act, signing) == NotFound()
        assert sign_as_trainer(ward.site, act, signing, roles=TRAINERS, person="nadia") == NotFound()
