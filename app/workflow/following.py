"""Tell what followed a record, once its story has ended: outside any transaction, then stored with its event.

As with a record's PDF nothing of the making is kept until all of it is, and it is made once.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from app.auditing.checkpointing import HistoryChanged, NoSuchEntry, place_of
from app.keys import SiteKeys
from app.keys.seal_signing import sign_for_seal
from app.records import events
from app.records.canonical import canonical, digest
from app.records.kept import FrozenRecord, KeptFollowed
from app.reports.followed_file import ShownEntries
from app.reports.what_followed import render_what_followed
from app.site.followed import Followed, find_followed
from app.site.installation import KeysUnusable, Site, usable_site_keys
from app.site.loading import load
from app.site.record import names_now
from app.storage import ConstraintBroken, Reader
from app.workflow.issuing import Issued, LeftAlone


@dataclass(frozen=True, kw_only=True)
class _ToTell:
    """The story, and the document that tells it."""

    followed: Followed
    document: Mapping[str, Any]


def tell_what_followed(
    site: Site, check_id: str, edition: int, now: datetime
) -> Issued | LeftAlone | KeysUnusable | HistoryChanged:
    """Render, seal and store what followed an edition; left alone while its story goes on, and once told.

    Without the site's keys, or over a log that was changed, nothing is made.
    """
    with site.store.read() as reader:
        told = _to_tell(reader, check_id, edition, now)
    if told is None:
        return LeftAlone()
    keys = usable_site_keys(site, now)
    if isinstance(keys, KeysUnusable):
        return keys
    shown = _shown(site, keys, told.followed, now)
    if isinstance(shown, HistoryChanged):
        return shown
    return _stored(site, told, _sealed(told.document, shown, keys, now), now)


def _to_tell(reader: Reader, check_id: str, edition: int, now: datetime) -> _ToTell | None:
    frozen = next((each for each in reader.frozen_records(check_id) if each.edition == edition), None)
    if frozen is None or edition in {each.edition for each in reader.followed(check_id)}:
        return None
    loaded = load(reader, check_id, now)
    assert loaded is not None  # noqa: S101  # its record stands
    followed = find_followed(loaded, frozen)
    if followed is None:
        return None
    names = names_now(reader, loaded.state.check.unit, followed.people)
    return _ToTell(followed=followed, document=followed.document(until=reader.head(), names=names))


def _shown(site: Site, keys: SiteKeys, followed: Followed, now: datetime) -> ShownEntries | HistoryChanged:
    """Where each entry that is told stands in the log."""
    positions = [each.position for each in followed.entries]
    found = place_of(site, keys, site.tree, position=positions[-1], now=now)
    if isinstance(found, HistoryChanged):
        return found
    assert not isinstance(found, NoSuchEntry)  # noqa: S101  # the position is an entry's
    _, checkpoint = found
    with site.store.read() as reader:
        places = tuple(site.tree.place(reader, each, checkpoint.size) for each in positions)
    return ShownEntries(places=places, checkpoint=checkpoint)


def _sealed(document: Mapping[str, Any], shown: ShownEntries, keys: SiteKeys, now: datetime) -> bytes:
    # Loading the library takes a third of a second, which nobody who seals nothing should wait for.
    from app.reports.seal import REASON_OF_WHAT_FOLLOWED, Sealer, seal_pdf  # noqa: PLC0415

    unsealed = render_what_followed(document, shown=shown)
    sealer = Sealer(certificate=keys.seal_certificate_der, sign=lambda content: sign_for_seal(keys, content))
    return seal_pdf(unsealed, sealer, at=now, place=document["site"], reason=REASON_OF_WHAT_FOLLOWED)


def _stored(site: Site, told: _ToTell, content: bytes, now: datetime) -> Issued | LeftAlone:
    """Both at once: the document with its PDF, and the log's word that they were issued."""
    frozen: FrozenRecord = told.followed.frozen
    kept = KeptFollowed(
        check=frozen.check,
        edition=frozen.edition,
        document=canonical(told.document),
        content=content,
        digest=digest(content),
        issued_at=now,
    )
    with site.store.write() as tx:
        try:
            tx.add_followed(kept)
        except ConstraintBroken as broken:
            if broken.name != "one_what_followed_an_edition":
                raise
            return tx.refuse(LeftAlone())
        issued = events.WhatFollowedIssued(
            edition=kept.edition, document_digest=digest(kept.document), pdf_digest=kept.digest
        )
        return Issued(position=tx.append(issued, at=now, check=frozen.check).position)
