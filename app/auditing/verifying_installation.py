"""Which installation a database is: founded once, at the log's beginning, or named as a copy for training."""

from collections.abc import Iterator

from app.keys import read_public_file
from app.records.site_events import InstallationFounded, SiteKeyMade
from app.site.installation import Site, is_founded_with
from app.storage import Reader


def installation_faults(site: Site, reader: Reader) -> Iterator[str]:
    """What does not hold of its founding, and of keys of the site beside it."""
    before = ""
    for entry in reader.entries_of_kind(InstallationFounded.kind):
        said = entry.event
        assert isinstance(said, InstallationFounded)  # noqa: S101  # asked for by its kind
        if said.copy_of != before or (not before and entry.position != 1):
            yield "an installation was founded that is neither the first nor a copy of the one before"
        if not is_founded_with(site.key, said):
            yield "an installation was founded with another application key"
        before = said.installation
    if not before and reader.head():
        yield "the log does not begin with the founding of an installation"
    yield from _foreign_keys(reader)


def _foreign_keys(reader: Reader) -> Iterator[str]:
    """Keys of the site that were made for another installation than the one that stood then."""
    entries = (*reader.entries_of_kind(InstallationFounded.kind), *reader.entries_of_kind(SiteKeyMade.kind))
    standing = ""
    for entry in sorted(entries, key=lambda each: each.position):
        match entry.event:
            case InstallationFounded(installation=installation):
                standing = installation
            case SiteKeyMade(certificate=certificate):
                if [each.installation for each in read_public_file(certificate)] != [standing]:
                    yield "the log tells of a key of another installation"
            case _:
                pass
