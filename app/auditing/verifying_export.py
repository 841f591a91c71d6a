"""Whether an export is what its manifest says, and whether the site signed that: without a database."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from app.keys import SiteKey, is_manifest_signed, is_signed_in_time, read_public_file
from app.records.checkpoint import Unreadable
from app.records.verification import NOT_ASKED, NotReadable
from app.reports.manifest import ENDING, Manifest, SignedManifest, find_fault, manifest_of, read_manifest

_NO_MANIFEST = "there is no manifest that can be read beside it"


@dataclass(frozen=True, kw_only=True)
class ExportAnswer:
    """Whether one thing holds (None: it was not asked), of what, and why."""

    of: str
    holds: bool | None
    says: str


@dataclass(frozen=True, kw_only=True)
class ExportVerification:
    """Every answer about one export."""

    manifest: Manifest
    answers: tuple[ExportAnswer, ...]

    @property
    def what(self) -> str:
        """Which export it was."""
        told = self.manifest
        kind = "De-identified export" if told.deidentified else "Export"
        return (
            f"{kind} {told.export} as {told.form}: {told.rows:,} rows or lines, of {told.from_date} to "
            f"{told.to_date}, asked for at {told.asked_at.isoformat(timespec='seconds')}"
        )

    @property
    def holds(self) -> bool:
        """Whether everything that was asked was answered with yes."""
        return all(each.holds is not False for each in self.answers)

    @property
    def is_signed(self) -> bool:
        """Whether the site signed the manifest; without that both it and the files may have been changed."""
        return self.answers[0].holds is True

    @property
    def whole(self) -> bool:
        """Whether everything was asked."""
        return all(each.holds is not None for each in self.answers)

    def as_data(self) -> dict[str, Any]:
        """The answers as JSON values."""
        return {
            "export": self.manifest.export,
            "holds": self.holds,
            "answers": [
                {
                    "about": each.of,
                    "holds": NOT_ASKED if each.holds is None else each.holds,
                    "says": each.says,
                }
                for each in self.answers
            ],
        }


def verify_export(path: Path, certificates: str) -> ExportVerification | NotReadable:
    """Put every question to an export, named by its file, its folder or its manifest."""
    is_manifest = path.name.endswith(ENDING)
    file = path.with_name(path.name.removesuffix(ENDING)) if is_manifest else path
    try:
        read = read_manifest(manifest_of(file).read_bytes())
    except OSError:
        return NotReadable(why=_NO_MANIFEST)
    if isinstance(read, Unreadable):
        return NotReadable(why=f"{_NO_MANIFEST}: {read.says}" if read.says else _NO_MANIFEST)
    known = read_public_file(certificates)
    return ExportVerification(manifest=read.manifest, answers=tuple(_answers(read, file, known)))


def _answers(read: SignedManifest, file: Path, known: tuple[SiteKey, ...]) -> Iterator[ExportAnswer]:
    yield _signature(read, known)
    yield _checkpoint(read.manifest, known)
    parts, folder = read.manifest.parts, file.parent
    if len(parts) == 1 and file.is_file():
        # Whoever keeps it may call it otherwise.
        yield _answer(file.name, find_fault(folder, parts[0], renamed=file))
        return
    for part in parts:
        yield _answer(part.name, find_fault(folder, part))
    told = {part.name for part in parts}
    for each in sorted(file.rglob("*")) if file.is_dir() else ():
        name = each.relative_to(folder).as_posix()
        if each.is_file() and name not in told:
            yield _answer(name, "the manifest does not tell of it")


def _answer(of: str, fault: str) -> ExportAnswer:
    says = fault or "It is, byte for byte, what the manifest tells of."
    return ExportAnswer(of=of, holds=not fault, says=says)


def _signature(read: SignedManifest, known: tuple[SiteKey, ...]) -> ExportAnswer:
    of = "manifest"
    if not read.signature:
        says = "No key of the site was at hand when it was made: nothing tells whose it is."
        return ExportAnswer(of=of, holds=None, says=says)
    told = read.manifest
    holds = is_manifest_signed(told.statement, read.signature, kid=read.kid, at=told.asked_at, known=known)
    says = "The site signed it." if holds else "It was changed, or is not signed by this site."
    return ExportAnswer(of=of, holds=holds, says=says)


def _checkpoint(told: Manifest, known: tuple[SiteKey, ...]) -> ExportAnswer:
    of, checkpoint = "checkpoint", told.checkpoint
    if checkpoint is None:
        return ExportAnswer(of=of, holds=None, says="There is none in it.")
    holds = is_signed_in_time(checkpoint, known)
    at = checkpoint.at.isoformat(timespec="seconds")
    says = f"The log had {checkpoint.size} entries at {at}." if holds else "It is not signed by this site."
    return ExportAnswer(of=of, holds=holds, says=says)
