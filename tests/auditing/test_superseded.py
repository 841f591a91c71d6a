"""A record verified beside a log that knows more than it does: a later edition, a later key."""

import copy
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from app.auditing.verifying import PublicMaterial, read_material, verify_file
from app.cli import main
from app.keys import Purpose, load_site_keys, public_file, rotate_site_key
from app.records.checkpoint import CheckpointFile, file_content
from app.records.verification import Question, Verification
from tests.factories.site_keys import owned
from tests.reports import sealed
from tests.reports.signed_log import SEALED_AT, SignedLog


def further(story: sealed.Story) -> SignedLog:
    """The log of the story, to which more may be added."""
    log = copy.copy(story.log)
    log.entries = [*story.log.entries]
    return log


def verified(story: sealed.Story, public: str, checkpoint: CheckpointFile) -> Verification:
    material = read_material(public.encode(), file_content(checkpoint))
    assert isinstance(material, PublicMaterial)
    found = verify_file(story.sealed, material, pages=False)
    assert isinstance(found, Verification)
    return found


def with_edition(story: sealed.Story, edition: int, *, record: str = "") -> CheckpointFile:
    """The checkpoint file after another edition of this record, or of another one, was issued too."""
    log = further(story)
    document = {**story.document, "edition": edition, "record": record or story.document["record"]}
    newer = log.issued(document, b"another file")
    old = log.place(story.checkpoint.issued[next(iter(story.checkpoint.issued))].position)
    return CheckpointFile(
        checkpoint=newer.checkpoint, issued={**newer.issued, **dict.fromkeys(story.checkpoint.issued, old)}
    )


def test_an_edition_beside_a_checkpoint_that_holds_a_later_one_says_so(
    story: sealed.Story, tmp_path: Path
) -> None:
    public, checkpoint = public_file(story.keys.known), with_edition(story, 2)
    found = verified(story, public, checkpoint)
    assert found.superseded_by == 2
    assert found.holds
    files = {
        "record.pdf": story.sealed,
        "site.pem": public.encode(),
        "checkpoint.json": file_content(checkpoint),
    }
    for name, content in files.items():
        (tmp_path / name).write_bytes(content)
    given = [str(tmp_path / name) for name in files]
    ran = CliRunner().invoke(main, ["verify", given[0], "--site", given[1], "--checkpoint", given[2]])
    assert ran.exit_code == 0
    assert "SUPERSEDED: the log has edition 2 of this record" in ran.output


@pytest.mark.parametrize(("edition", "record"), [(1, ""), (2, "check-2")])
def test_the_newest_edition_says_nothing_of_the_kind(story: sealed.Story, edition: int, record: str) -> None:
    found = verified(story, public_file(story.keys.known), with_edition(story, edition, record=record))
    assert found.superseded_by == 0


def test_a_later_edition_counts_only_where_the_log_has_it(story: sealed.Story) -> None:
    good = with_edition(story, 2)
    moved = dict(good.issued)
    for digest, place in good.issued.items():
        if digest not in story.checkpoint.issued:
            moved[digest] = replace(place, path=place.path[1:])
    changed = CheckpointFile(checkpoint=good.checkpoint, issued=moved)
    assert verified(story, public_file(story.keys.known), changed).superseded_by == 0


def test_a_checkpoint_by_a_rotated_key_counts_only_for_its_time(tmp_path: Path) -> None:
    folder = tmp_path / "site-keys"
    sealed_by = sealed.tell(folder)
    old = load_site_keys(folder, SEALED_AT)
    rotated = SEALED_AT + timedelta(days=1)
    rotate_site_key(folder, rotated, Purpose.CHECKPOINT, owner=owned(sealed.SITE))
    public = public_file(load_site_keys(folder, rotated).known)

    def issued(at: timedelta) -> set[Question]:
        size, root = sealed_by.checkpoint.checkpoint.size, sealed_by.checkpoint.checkpoint.root
        signed = old.sign_checkpoint(size=size, root=root, at=rotated + at)
        found = verified(
            sealed_by, public, CheckpointFile(checkpoint=signed, issued=sealed_by.checkpoint.issued)
        )
        return {each.question for each in found.answers if not each.holds}

    assert issued(-timedelta(hours=1)) == set()
    # What was begun before may be ended with it.
    assert issued(timedelta(seconds=30)) == set()
    assert issued(timedelta(hours=1)) == {Question.ISSUED}
    assert issued(-timedelta(days=4000)) == {Question.ISSUED}
    assert not load_site_keys(folder, rotated).signed(
        old.sign_checkpoint(size=1, root="ab" * 32, at=rotated + timedelta(hours=1))
    )
