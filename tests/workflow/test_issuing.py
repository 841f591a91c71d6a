"""What both signed becomes one sealed PDF with its proof, or is clearly still to be made; never less."""

import json
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path
from typing import NoReturn

import pytest
from sqlalchemy import text

from app.auditing.checkpointing import HistoryChanged, checkpoint_file, make_checkpoint
from app.auditing.verifying import PublicMaterial, read_material, verify_file
from app.keys import SiteKeys, is_signed_by, list_site_keys, public_file
from app.keys.certificates import KEY_LIFE
from app.records.canonical import digest
from app.records.checkpoint import CheckpointFile, Unreadable, file_content, holds
from app.records.events import Signed
from app.records.kept import FrozenRecord, KeptPdf, KeptSignature
from app.records.state import Phase
from app.records.verification import Verification
from app.reports import seal
from app.reports.attachments import (
    PROOF,
    RECORD,
    RENDERER,
    SIGNATURES,
    NoAttachments,
    read_attachments,
    read_proof,
)
from app.reports.seal import SealHolds, check_seal
from app.site.installation import KeysUnusable, usable_site_keys
from app.storage.transaction import Transaction
from app.workflow import issuing
from app.workflow.issuing import LeftAlone, issue_record
from app.workflow.sweeping import Swept, sweep_once
from tests.factories.quick_pdf import without_rendering
from tests.factories.site_keys import MADE_AT, site_keys
from tests.story.ward import Ward, open_ward
from tests.support.tampering import as_database_administrator


def sweeps(ward: Ward) -> Swept | None:
    return sweep_once(ward.site, ward.wait().now, holder="one")


def pdf_of(ward: Ward) -> KeptPdf | None:
    with ward.site.store.read() as reader:
        return reader.find_pdf(ward.check, 1)


@dataclass(frozen=True, kw_only=True)
class Made:
    """One record as it was stored, and what it was made from."""

    pdf: KeptPdf
    frozen: FrozenRecord
    signatures: tuple[KeptSignature, ...]
    second: bytes
    log: tuple[bytes, ...]
    checkpoint: CheckpointFile


@pytest.fixture(scope="module")
def made(_migrated_sqlite: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Made]:
    """A check walked from the first page to its PDF, rendered and sealed for real."""
    path = tmp_path_factory.mktemp("issued") / "ward.sqlite3"
    shutil.copyfile(_migrated_sqlite, path)
    with open_ward(f"sqlite:///{path}") as ward:
        ward.at_stage(Phase.CLEARED)
        assert sweeps(ward) == Swept(compared=0, issued=1)
        pdf = pdf_of(ward)
        assert pdf is not None
        with ward.site.store.read() as reader:
            signed = [each for each in reader.entries(ward.check) if isinstance(each.event, Signed)]
        keys = usable_site_keys(ward.site, ward.now)
        assert isinstance(keys, SiteKeys)
        checkpoint = checkpoint_file(ward.site, keys, ward.wait().now)
        assert isinstance(checkpoint, CheckpointFile)
        with ward.site.store.read() as reader:
            yield Made(
                pdf=pdf,
                frozen=reader.frozen_records(ward.check)[0],
                signatures=reader.signatures(ward.check),
                second=signed[-1].canonical,
                log=tuple(reader.leaves(after=0, up_to=reader.head())),
                checkpoint=checkpoint,
            )


def attached(made: Made) -> dict[str, bytes]:
    found = read_attachments(made.pdf.content)
    assert not isinstance(found, NoAttachments)
    return dict(found)


class TestTheWholeWay:
    def test_the_stored_pdf_is_sealed_by_the_site_and_whole(self, made: Made) -> None:
        public = public_file(list_site_keys(site_keys()))

        held = check_seal(made.pdf.content, public)
        assert isinstance(held, SealHolds), held
        assert held.sealed_at == made.pdf.issued_at
        assert made.pdf.digest == digest(made.pdf.content)

    def test_the_least_change_breaks_it(self, made: Made) -> None:
        public = public_file(list_site_keys(site_keys()))
        changed = bytearray(made.pdf.content)
        changed[len(changed) // 2] ^= 1

        assert not isinstance(check_seal(bytes(changed), public), SealHolds)

    def test_it_carries_the_very_bytes_that_were_signed_and_both_signatures(self, made: Made) -> None:
        assert attached(made).keys() == {RECORD, RENDERER, PROOF, *SIGNATURES.values()}
        assert attached(made)[RECORD] == made.frozen.document
        by_slot = {each.slot: each.jws.encode() for each in made.signatures}
        assert attached(made)[SIGNATURES["A"]] == by_slot[1]
        assert attached(made)[SIGNATURES["B"]] == by_slot[2]

    def test_its_proof_leads_from_the_second_signature_to_a_signed_checkpoint(self, made: Made) -> None:
        proof = read_proof(attached(made)[PROOF])
        assert not isinstance(proof, Unreadable)
        assert proof.place.leaf == made.second == made.log[proof.place.position - 1]
        assert json.loads(proof.place.leaf)["kind"] == "signed"
        assert holds(proof.place, proof.checkpoint)
        assert proof.checkpoint.size >= proof.place.position
        certificates = [each.certificate for each in list_site_keys(site_keys())]
        assert any(is_signed_by(proof.checkpoint, each) for each in certificates)

    def test_whoever_has_the_file_and_the_public_material_finds_that_everything_holds(
        self, made: Made
    ) -> None:
        public = public_file(list_site_keys(site_keys())).encode()
        material = read_material(public, file_content(made.checkpoint))
        assert isinstance(material, PublicMaterial)
        found = verify_file(made.pdf.content, material)
        assert isinstance(found, Verification)
        assert found.holds, found.answers
        assert found.record == made.frozen.check

    def test_another_entry_in_its_place_has_no_such_path(self, made: Made) -> None:
        proof = read_proof(attached(made)[PROOF])
        assert not isinstance(proof, Unreadable)
        assert not holds(replace(proof.place, leaf=made.log[0]), proof.checkpoint)


# Killed between any two steps


class Killed(BaseException):
    """The machine is gone: nothing catches this."""


def killed(*_: object, **__: object) -> NoReturn:
    raise Killed


STEPS: dict[str, Callable[[pytest.MonkeyPatch], None]] = {
    "before the proof": lambda patch: patch.setattr(issuing, "place_of", killed),
    "while rendering": lambda patch: patch.setattr(issuing, "render_record", killed),
    "after rendering": lambda patch: patch.setattr(seal, "seal_pdf", killed),
    "after sealing": lambda patch: patch.setattr(issuing, "digest", killed),
    "after the PDF, before its event": lambda patch: patch.setattr(Transaction, "append", killed),
    "before the commit": lambda patch: patch.setattr(Transaction, "to_be_committed", killed),
}


@pytest.mark.parametrize("step", STEPS)
def test_killed_between_steps_there_is_no_pdf_and_then_one(
    one_ward: Ward, step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    one_ward.at_stage(Phase.CLEARED)
    # The proof's own transaction is done by then: what is killed is the last one.
    keys = usable_site_keys(one_ward.site, one_ward.now)
    assert isinstance(keys, SiteKeys)
    make_checkpoint(one_ward.site, keys, one_ward.wait().now)
    without_rendering(monkeypatch)
    with monkeypatch.context() as patch:
        STEPS[step](patch)
        with pytest.raises(Killed):
            issue_record(one_ward.site, one_ward.check, 1, one_ward.wait().now)
    assert pdf_of(one_ward) is None
    assert one_ward.phase is Phase.CLEARED
    assert one_ward.state().issued == set()

    assert sweeps(one_ward) == Swept(compared=0, issued=1)
    first = pdf_of(one_ward)
    assert issue_record(one_ward.site, one_ward.check, 1, one_ward.wait().now) == LeftAlone()
    assert pdf_of(one_ward) == first is not None
    with one_ward.site.store.read() as reader:
        assert [each.event.kind for each in reader.entries(one_ward.check)].count("record-issued") == 1


# Without keys


def without_the_seal_s_key(ward: Ward, folder: Path) -> None:
    copy = Path(shutil.copytree(site_keys(), folder / "keys"))
    for each in copy.glob("seal-*.key"):
        each.unlink()
    ward.site = replace(ward.site, site_keys=copy)


def with_a_damaged_key(ward: Ward, folder: Path) -> None:
    copy = Path(shutil.copytree(site_keys(), folder / "keys"))
    for each in copy.glob("seal-*.key"):
        each.write_text("no key")
    ward.site = replace(ward.site, site_keys=copy)


def after_its_end(ward: Ward, _folder: Path) -> None:
    ward.now = MADE_AT + KEY_LIFE + timedelta(days=1)


UNUSABLE: dict[str, tuple[Callable[[Ward, Path], None], str]] = {
    "missing": (without_the_seal_s_key, "there is no seal key"),
    "unreadable": (with_a_damaged_key, "does not hold a key"),
    "expired": (after_its_end, "the seal key ended on 2034-03-31"),
}


@pytest.mark.parametrize("fault", UNUSABLE)
def test_without_a_usable_key_nothing_is_issued_and_the_records_wait(
    one_ward: Ward, fault: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    happens, says = UNUSABLE[fault]
    one_ward.at_stage(Phase.CLEARED).at_stage(Phase.CLEARED)
    site, now = one_ward.site, one_ward.now
    happens(one_ward, tmp_path)
    rendered: list[object] = []
    monkeypatch.setattr(issuing, "render_record", lambda *said, **_: rendered.append(said))

    swept = sweeps(one_ward)
    assert swept is not None
    assert (swept.issued, swept.waiting, swept.failed) == (0, 2, ())
    assert says in swept.why
    assert "2 cleared records wait for their PDF" in swept.left
    assert one_ward.check not in swept.left
    assert pdf_of(one_ward) is None
    assert rendered == []

    # With the keys back, both are made.
    one_ward.site, one_ward.now = site, now
    without_rendering(monkeypatch)
    assert sweeps(one_ward) == Swept(compared=0, issued=2)
    assert one_ward.state().issued == {1}


def test_clearance_does_not_wait_for_a_key(one_ward: Ward, tmp_path: Path) -> None:
    without_the_seal_s_key(one_ward, tmp_path)

    assert isinstance(usable_site_keys(one_ward.site, one_ward.now), KeysUnusable)
    assert one_ward.at_stage(Phase.STARTED).phase is Phase.STARTED


def test_over_a_log_that_was_changed_nothing_is_issued(database_url: str) -> None:
    with open_ward(database_url) as ward:
        ward.at_stage(Phase.SIGNING)
        keys = usable_site_keys(ward.site, ward.now)
        assert isinstance(keys, SiteKeys)
        assert not isinstance(make_checkpoint(ward.site, keys, ward.now), HistoryChanged)
        ward.both_sign()
        with as_database_administrator(database_url) as connection:
            newer = {"canonical": b'{"kind":"invented"}'}
            connection.execute(text("UPDATE log_entry SET canonical = :canonical WHERE position = 3"), newer)

        swept = sweeps(ward)
        assert swept is not None
        assert (swept.issued, swept.waiting) == (0, 1)
        assert "an entry was changed, moved or taken out" in swept.left
        assert pdf_of(ward) is None
        assert ward.phase is Phase.CLEARED


def test_a_process_that_read_the_log_before_it_was_changed_seals_no_false_place(database_url: str) -> None:
    """Its tree still holds the old entries; the path from the entry of today does not lead to their root."""
    with open_ward(database_url) as ward:
        ward.at_stage(Phase.CLEARED)
        with ward.site.store.read() as reader:
            signed = [each for each in reader.entries(ward.check) if isinstance(each.event, Signed)][-1]
            ward.site.tree.find_root(reader, reader.head())
        with as_database_administrator(database_url) as connection:
            changed = {"other": signed.canonical.replace(b'"slot":1', b'"slot":2'), "at": signed.position}
            connection.execute(text("UPDATE log_entry SET canonical = :other WHERE position = :at"), changed)

        made = issue_record(ward.site, ward.check, 1, ward.wait().now)
        assert isinstance(made, HistoryChanged)
        assert pdf_of(ward) is None
