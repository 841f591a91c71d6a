"""Verify the sealed records of checks on training cards that a database holds."""

from collections.abc import Iterator

from app.auditing.verifying import PublicMaterial, verify_opened
from app.records.canonical import digest
from app.records.checkpoint import Checkpoint, CheckpointFile, Place
from app.records.kept_people import KeptCompetency
from app.records.proofs import Tree
from app.records.store_verification import Failing
from app.records.training_events import CompetencyIssued
from app.reports.competency_file import CompetencyFile
from app.reports.followed_file import open_document
from app.storage import Reader

_ABOUT = "competency_file.content"


def failing_training(
    reader: Reader, tree: Tree, checkpoint: Checkpoint, certificates: str, *, pages: bool
) -> Iterator[Failing]:
    """What does not hold of them; a file that is gone is told with the rows."""
    for entry in reader.entries_of_kind(CompetencyIssued.kind):
        event = entry.event
        assert isinstance(event, CompetencyIssued)  # noqa: S101  # asked for by its kind
        kept = reader.find_competency_file(event.record, event.edition)
        if kept is None:
            continue
        path = tuple(step.hex() for step in tree.inclusion(entry.position - 1, tree.size))
        issued = {kept.digest: Place(leaf=entry.canonical, position=entry.position, path=path)}
        material = PublicMaterial(
            certificates=certificates, checkpoint=CheckpointFile(checkpoint=checkpoint, issued=issued)
        )
        yield from _failing_file(kept, event, material, pages=pages)


def _failing_file(
    kept: KeptCompetency, event: CompetencyIssued, material: PublicMaterial, *, pages: bool
) -> Iterator[Failing]:
    where = f"{kept.record}, edition {kept.edition}"
    file = open_document(kept.content)
    if not isinstance(file, CompetencyFile) or digest(file.written) != event.digest:
        yield Failing(about=_ABOUT, what=f"{where}: another document is attached to the file")
        return
    for each in verify_opened(file, material, pages=pages).answers:
        if each.holds is False:
            yield Failing(about=_ABOUT, what=f"{where}: not so: {each.question.value}. {each.says}")
