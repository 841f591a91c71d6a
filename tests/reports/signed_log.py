"""A small log of real entries: keys made and confirmed, signatures given, a record issued. All invented."""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from app.keys import (
    PersonalKey,
    RecordHeader,
    SiteKeys,
    make_personal_key,
    sign_confirmation,
    sign_detached,
)
from app.records import events
from app.records.canonical import canonical, digest
from app.records.checkpoint import Checkpoint, CheckpointFile, Place
from app.records.kept_keys import KeptKey
from app.records.key_statements import Holder, confirmation_statement
from app.records.proofs import Tree
from app.records.written import as_data
from app.reports.attachments import ConfirmedKey, LogProof
from app.reports.record import RecordSignature

SECRET = "nine lanterns under the bridge"
SEALED_AT = datetime(2031, 5, 2, 13, 5, 2, tzinfo=UTC)
KEYS_MADE = SEALED_AT - timedelta(days=30)
ISSUER, CONFIRMER = "person-issuer", "person-confirmer"
# With whom the keys of the invented site began.
FOUNDERS = (
    Holder(person=CONFIRMER, login="f.one", staff_number="DM-1001", printed_name="Farah Onegin"),
    Holder(person="person-founder", login="f.two", staff_number="DM-1002", printed_name="Felix Twombly"),
)


@dataclass
class SignedLog:
    """Entries in the form in which the journal writes them, and where the signers' keys stand among them."""

    keys: SiteKeys
    entries: list[bytes] = field(default_factory=list)
    made: dict[str, int] = field(default_factory=dict)
    confirmed: dict[str, int] = field(default_factory=dict)
    foundings: list[int] = field(default_factory=list)

    def tell(self, event: events.Event, *, by: str = "", check: str = "", at: datetime = KEYS_MADE) -> int:
        """Append an entry; its position."""
        position = len(self.entries) + 1
        written = {
            "position": position,
            "by": by,
            "infusion": "",
            "check": check,
            "session": "",
            "device": "",
            "at": at.isoformat(),
            "signed_in_at": None,
            "kind": event.kind,
            "data": as_data(event),
        }
        self.entries.append(canonical(written))
        return position

    def key_made(self, person: str, *, issuer: str = ISSUER) -> PersonalKey:
        """A person sets a secret."""
        key = make_personal_key(SECRET)
        made = events.PersonalKeyMade(
            person=person,
            kid=key.kid,
            algorithm=key.algorithm,
            public=key.public,
            issuer=issuer,
            made_on="",
            attestation="",
        )
        self.made[key.kid] = self.tell(made, by=person)
        return key

    def key_confirmed(self, key: PersonalKey, holder: Holder, *, by: str, own: PersonalKey) -> None:
        """A colleague meets the person face to face."""
        kept = KeptKey(
            kid=key.kid,
            person=holder.person,
            algorithm=key.algorithm,
            public=key.public,
            made_at=KEYS_MADE,
            issuer=ISSUER,
            made_on="",
            attestation="",
        )
        statement = confirmation_statement(kept, holder, by=by, at=KEYS_MADE)
        signature = sign_confirmation(own.sealed, SECRET, statement, kid=own.kid)
        assert isinstance(signature, str)
        confirmed = events.PersonalKeyConfirmed(
            kid=key.kid,
            confirmed_by=by,
            confirmer_kid=own.kid,
            statement=statement.decode(),
            signature=signature,
            attestation="",
        )
        self.confirmed[key.kid] = self.tell(confirmed, by=by)

    def signed(
        self, document: dict[str, Any], given: RecordSignature, key: PersonalKey, slot: int
    ) -> RecordSignature:
        """A clinician signs the record; the signature with its JWS."""
        header = RecordHeader(
            kid=key.kid,
            user_id=given.person,
            printed_name=given.printed_name,
            signed_at=given.signed_at,
            meaning=given.meaning,
            record_id=document["record"],
            edition=document["edition"],
        )
        record = canonical(document)
        jws = sign_detached(key.sealed, SECRET, record, header)
        assert isinstance(jws, str)
        said = events.Signed(
            edition=document["edition"],
            slot=slot,
            digest=digest(record),
            meaning=given.meaning,
            kid=key.kid,
            signature=digest(jws.encode()),
        )
        self.tell(said, by=given.person, check=document["record"], at=given.signed_at)
        return RecordSignature(
            letter=given.letter,
            printed_name=given.printed_name,
            person=given.person,
            signed_at=given.signed_at,
            meaning=given.meaning,
            jws=jws,
        )

    def founded(self, *people: Holder, number: int = 1) -> tuple[PersonalKey, PersonalKey]:
        """Two people confirm each other's keys at the host."""
        first, second = people
        one, other = self.key_made(first.person), self.key_made(second.person)
        told = events.KeysFounded(number=number, first_kid=one.kid, second_kid=other.kid)
        self.foundings.append(self.tell(told))
        self.key_confirmed(one, first, by=second.person, own=other)
        self.key_confirmed(other, second, by=first.person, own=one)
        return one, other

    def proof(self, position: int) -> LogProof:
        """Where an entry stands, and all entries about people's keys, as the log is now."""
        return LogProof(
            place=self.place(position),
            keys=tuple(
                ConfirmedKey(made=self.place(self.made[kid]), confirmed=self.place(confirmed))
                for kid, confirmed in self.confirmed.items()
            ),
            foundings=tuple(map(self.place, self.foundings)),
            checkpoint=self.checkpoint(),
        )

    def place(self, position: int) -> Place:
        """An entry's place in the log as it is now."""
        tree, size = Tree(self.entries), len(self.entries)
        path = tuple(step.hex() for step in tree.inclusion(position - 1, size))
        return Place(leaf=self.entries[position - 1], position=position, path=path)

    def checkpoint(self) -> Checkpoint:
        """The site's word for the log as it is now."""
        size = len(self.entries)
        root = Tree(self.entries).root(size).hex()
        return self.keys.sign_checkpoint(size=size, root=root, at=SEALED_AT)

    def issued(self, document: dict[str, Any], content: bytes) -> CheckpointFile:
        """The record's PDF is stored; the checkpoint file of that moment."""
        said = events.RecordIssued(edition=document["edition"], pdf_digest=digest(content))
        position = self.tell(said, check=document["record"], at=SEALED_AT)
        return CheckpointFile(checkpoint=self.checkpoint(), issued={digest(content): self.place(position)})
