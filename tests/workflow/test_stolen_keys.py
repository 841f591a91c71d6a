"""A key of the site in other hands: two people declare it, and what it signs from then on is nothing."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from app.auditing.checkpointing import make_checkpoint
from app.auditing.verifying import PublicMaterial, read_material, verify_file
from app.auditing.verifying_store import Wanted, verify_store
from app.keys import (
    Purpose,
    SiteKey,
    SiteKeys,
    list_site_keys,
    load_site_keys,
    public_file,
    read_public_file,
)
from app.keys.backup import Held, Restored, backup_of, open_backup, restore
from app.records.checkpoint import Checkpoint, CheckpointFile, file_content
from app.records.site_events import SiteKeyStolen
from app.records.store_verification import Failing
from app.records.verification import Question, Verification
from app.reports.seal import seal_pdf
from app.workflow.founding import Founder
from app.workflow.stolen_keys import Declared, NotDeclared, Undeclared, declare_stolen, mark_declared
from tests.factories.site_keys import owned
from tests.reports import sealed
from tests.reports.signed_log import SEALED_AT
from tests.story.people import NADIA, RUTH, TOMAS, Somebody
from tests.story.ward import Ward

OWNER = owned("Larkmoor General Hospital (invented)")
HOUR = timedelta(hours=1)


@pytest.fixture
def site(ward: Ward, tmp_path: Path) -> Ward:
    """A ward with keys of its own, which a test may change."""
    folder = tmp_path / "site-keys"
    shutil.copytree(ward.site.site_keys, folder)
    ward.site = replace(ward.site, site_keys=folder)
    return ward


def founder(who: Somebody, secret: str | None = None) -> Founder:
    return Founder(login=who.login, secret=who.secret if secret is None else secret)


def declares(ward: Ward, key: SiteKey, by: tuple[Founder, Founder] | None = None) -> object:
    now = ward.now
    return declare_stolen(
        ward.site,
        now,
        kid=key.kid,
        since=now - HOUR,
        by=by or (founder(NADIA), founder(RUTH)),
        owner=OWNER,
    )


def keys_of(ward: Ward) -> SiteKeys:
    return load_site_keys(ward.site.site_keys, ward.now)


def failing(ward: Ward) -> list[Failing]:
    steps = verify_store(ward.site, ward.now, Wanted(pages=False))
    assert isinstance(steps, Iterator)
    return [each for each in steps if isinstance(each, Failing)]


def test_two_people_take_a_key_out_of_use_and_another_takes_its_place(site: Ward) -> None:
    before = keys_of(site)
    assert isinstance(make_checkpoint(site.site, before, site.now), Checkpoint)
    site.wait()
    assert declares(site, before.checkpoint) == Declared(
        kid=before.checkpoint.kid, stolen_from=site.now - HOUR
    )
    after = keys_of(site)
    assert after.checkpoint.kid != before.checkpoint.kid
    assert after.seal == before.seal
    (out,) = [each for each in after.known if each.kid == before.checkpoint.kid]
    assert (out.here, out.stolen_from) == (False, site.now - HOUR)
    # Whoever verifies is told with the public file.
    assert {each.kid: each.stolen_from for each in read_public_file(public_file(after.known))} == {
        each.kid: each.stolen_from for each in after.known
    }
    # What the site had signed with it before it knew stands.
    site.wait()
    assert isinstance(make_checkpoint(site.site, after, site.now), Checkpoint)
    assert failing(site) == []
    assert declares(site, before.checkpoint) == NotDeclared(why=Undeclared.ALREADY)


@pytest.mark.parametrize(
    ("by", "refused"),
    [
        ((founder(NADIA), founder(NADIA)), NotDeclared(why=Undeclared.ONE_PERSON)),
        ((founder(NADIA), founder(RUTH, "not hers")), NotDeclared(why=Undeclared.WRONG, login=RUTH.login)),
        ((founder(NADIA, ""), founder(RUTH)), NotDeclared(why=Undeclared.WRONG, login=NADIA.login)),
    ],
)
def test_nobody_declares_it_alone(site: Ward, by: tuple[Founder, Founder], refused: NotDeclared) -> None:
    before = keys_of(site)
    assert declares(site, before.seal, by) == refused
    assert keys_of(site).known == before.known
    with site.site.store.read() as reader:
        assert reader.entries_of_kind(SiteKeyStolen.kind) == ()


def test_a_moment_that_cannot_be_and_a_key_that_is_not(site: Ward) -> None:
    key, by = keys_of(site).seal, (founder(TOMAS), founder(RUTH))
    for since in (site.now + HOUR, key.made_at - HOUR):
        found = declare_stolen(site.site, site.now, kid=key.kid, since=since, by=by, owner=OWNER)
        assert found == NotDeclared(why=Undeclared.NOT_ITS_TIME)
    found = declare_stolen(site.site, site.now, kid="no-such-key", since=site.now, by=by, owner=OWNER)
    assert found == NotDeclared(why=Undeclared.NO_SUCH_KEY)


def test_it_is_out_of_later_backups_and_does_not_come_back_with_an_older_one(
    site: Ward, tmp_path: Path
) -> None:
    application_key, secret = tmp_path / "application.key", "nine lanterns under the bridge"
    application_key.write_bytes(b"k" * 32)
    folder, key = site.site.site_keys, keys_of(site).seal
    older = backup_of(secret, application_key=application_key, site_keys=folder)
    assert isinstance(declares(site, key), Declared)

    def private_halves(backup: bytes, to: Path) -> set[str]:
        held = open_backup(backup, secret)
        assert isinstance(held, Held)
        done = restore(held, application_key=to / "application.key", site_keys=to / "site")
        assert isinstance(done, Restored)
        return {name for name in done.names if name.endswith(".key")}

    gone = f"seal-{key.kid}.key"
    assert gone in private_halves(older, tmp_path / "older")
    # Even where somebody put the file back.
    shutil.copyfile(tmp_path / "older" / "site" / gone, folder / gone)
    assert keys_of(site).seal.kid != key.kid
    later = backup_of(secret, application_key=application_key, site_keys=folder)
    assert gone not in private_halves(later, tmp_path / "later")
    back = replace(site.site, site_keys=tmp_path / "older" / "site")
    assert mark_declared(back, site.now, owner=OWNER) == (key.kid,)
    assert not (back.site_keys / gone).exists()
    assert {each.kid for each in list_site_keys(back.site_keys) if each.stolen_from} == {key.kid}


def test_a_log_that_says_so_and_a_folder_that_does_not(site: Ward) -> None:
    key = keys_of(site).checkpoint
    assert isinstance(declares(site, key), Declared)
    (site.site.site_keys / f"checkpoint-{key.kid}.stolen").unlink()
    assert [each.about for each in failing(site)] == ["site_key"]


def test_what_the_thief_signs_into_the_store_is_found(site: Ward) -> None:
    stolen = keys_of(site)
    assert isinstance(declares(site, stolen.checkpoint), Declared)
    now = site.wait().now
    good = make_checkpoint(site.site, keys_of(site), now)
    assert isinstance(good, Checkpoint)
    wanted = Wanted(pages=False, checkpoint=stolen.sign_checkpoint(size=good.size, root=good.root, at=now))
    steps = verify_store(site.site, now, wanted)
    assert isinstance(steps, Iterator)
    assert [each.about for each in steps if isinstance(each, Failing)] == ["the checkpoint given.signature"]


def verified(
    story: sealed.Story, content: bytes, known: tuple[SiteKey, ...], at: Checkpoint
) -> set[Question]:
    files = file_content(CheckpointFile(checkpoint=at, issued=story.checkpoint.issued))
    material = read_material(public_file(known).encode(), files)
    assert isinstance(material, PublicMaterial)
    found = verify_file(content, material, pages=False)
    assert isinstance(found, Verification)
    return {each.question for each in found.answers if not each.holds}


@pytest.mark.parametrize("purpose", Purpose)
def test_what_a_stolen_key_made_from_then_on_counts_only_where_the_log_has_it(
    story: sealed.Story, purpose: Purpose
) -> None:
    since = SEALED_AT - HOUR
    known = tuple(
        replace(each, stolen_from=since) if each.purpose is purpose else each for each in story.keys.known
    )
    now, before = story.checkpoint.checkpoint, SEALED_AT - 2 * HOUR
    earlier = story.keys.sign_checkpoint(size=now.size, root=now.root, at=before)
    if purpose is Purpose.CHECKPOINT:
        # The one kept outside; then what is inside the file counts, for the log has the file.
        assert Question.ISSUED in verified(story, story.sealed, known, now)
        assert verified(story, story.sealed, known, earlier) == set()
        return
    assert verified(story, story.sealed, known, now) == set()
    forged = seal_pdf(story.unsealed, sealed.sealer_of(story.keys), at=SEALED_AT + HOUR, place=sealed.SITE)
    assert verified(story, forged, known, now) >= {Question.SEAL, Question.ISSUED}
