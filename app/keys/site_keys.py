"""The site's own keys: one seals each record's PDF (P-256), one signs checkpoints of the log (Ed25519).

A key is two files in a folder outside the database: `<purpose>-<key id>.key`, the private half, readable by
its owner alone, and `<purpose>-<key id>.pem`, its certificate, which says from when until when the key is
used and goes to whoever verifies. Rotating leaves the old certificate, so that old records still verify, and
removes the old private half. `<purpose>-<key id>.stolen` says from when on a key was declared stolen.
"""

import os
import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from enum import Enum
from functools import lru_cache
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec, ed25519
from joserfc.jwk import ECKey, OKPKey

from app.config import WrongSettingError
from app.keys.certificates import (
    Owner,
    PrivateKey,
    certificate_in,
    certify,
    chains_in,
    installation_in,
    one_form,
)
from app.keys.new_file import write_new
from app.keys.signatures import key_id, public_text
from app.records.checkpoint import Checkpoint, statement, statement_of

SETTING = "COUNTERSIGN_SITE_KEYS"

# What was begun with a key may be ended with it after another has taken its place.
ROTATING = timedelta(minutes=1)
_STOLEN = "Declared stolen from:"
_STOLEN_LINE = re.compile(rf"^{_STOLEN} (\S+) ([A-Za-z0-9_-]{{43}})$", re.MULTILINE)
# How long before its end the operator is told.
WARN_BEFORE = timedelta(days=60)


class Purpose(Enum):
    """What a site key is for."""

    SEAL = "seal"
    CHECKPOINT = "checkpoint"


class SiteKeyMissingError(WrongSettingError):
    """There is no such key; nothing is sealed or signed without it."""


class SiteKeyExpiredError(WrongSettingError):
    """The key is past its end, or the clock stands before its beginning."""


class SiteKeyUnreadableError(WrongSettingError):
    """A key's files are damaged, do not belong together, or others can reach them."""


@dataclass(frozen=True, kw_only=True)
class SiteKey:
    """The public part of one key: its certificate (PEM), its owner, and whether its private half is here."""

    kid: str
    purpose: Purpose
    certificate: str
    made_at: datetime
    until: datetime
    here: bool
    installation: str
    stolen_from: datetime | None = None

    def ends_soon(self, now: datetime) -> bool:
        """Whether it is time to rotate."""
        return self.until - now <= WARN_BEFORE

    def is_stolen(self, at: datetime) -> bool:
        """Whether it was in other hands at a moment, as far as was declared."""
        return self.stolen_from is not None and at >= self.stolen_from


@dataclass(frozen=True, kw_only=True)
class SiteKeys:
    """The two keys in use, and `known`, every key with its certificate; private halves are never shown."""

    seal: SiteKey
    checkpoint: SiteKey
    known: tuple[SiteKey, ...]
    seal_private: ec.EllipticCurvePrivateKey = field(repr=False)
    checkpoint_private: ed25519.Ed25519PrivateKey = field(repr=False)

    @property
    def seal_certificate_der(self) -> bytes:
        """The certificate that goes with it (X.509, DER)."""
        return certificate_in(self.seal.certificate).public_bytes(serialization.Encoding.DER)

    def signed(self, checkpoint: Checkpoint) -> bool:
        """Whether one of the site's keys, an old one in its time, signed this checkpoint.

        It may be one that was declared stolen only afterwards: those that are kept are held against the log.
        """
        return is_signed_in_time(checkpoint, self.known, though_stolen=True)

    def sign_checkpoint(self, *, size: int, root: str, at: datetime) -> Checkpoint:
        """Sign what the log is at a moment."""
        said = statement(size=size, root=root, at=at, kid=self.checkpoint.kid)
        signature = self.checkpoint_private.sign(said).hex()
        return Checkpoint(size=size, root=root, at=at, kid=self.checkpoint.kid, signature=signature)

    def sign_to_verify(self, *, size: int, root: str, at: datetime) -> Checkpoint:
        """Sign what the log is for whoever verifies by it at once: within the key's time, kept nowhere."""
        in_time = min(max(at, self.checkpoint.made_at), self.checkpoint.until)
        return self.sign_checkpoint(size=size, root=root, at=in_time)

    def sign_manifest(self, said: bytes) -> str:
        """Sign what an export is, as its manifest says it; hexadecimal.

        By the key of checkpoints: each statement says its format, so that neither is taken for the other.
        """
        return self.checkpoint_private.sign(said).hex()


# One checkpoint, and one certificate, is asked about again for every record of a run.
@lru_cache(maxsize=256)
def is_signed_by(checkpoint: Checkpoint, certificate: str) -> bool:
    """Whether a checkpoint was signed by the key of a certificate, and names that key."""
    return _is_over(statement_of(checkpoint), checkpoint.signature, checkpoint.kid, certificate)


def _is_over(said: bytes, signature: str, kid: str, certificate: str) -> bool:
    public = certificate_in(certificate).public_key()
    if not isinstance(public, ed25519.Ed25519PublicKey) or _kid(public) != kid:
        return False
    try:
        public.verify(bytes.fromhex(signature), said)
    except InvalidSignature:
        return False
    return True


def is_manifest_signed(
    said: bytes, signature: str, *, kid: str, at: datetime, known: tuple[SiteKey, ...]
) -> bool:
    """Whether one of these keys signed a manifest, at a time at which it was the one in use."""
    return any(
        _is_its_time(each, known, at)
        and not each.is_stolen(at)
        and _is_over(said, signature, kid, each.certificate)
        for each in known
        if each.kid == kid
    )


def is_signed_in_time(
    checkpoint: Checkpoint, known: tuple[SiteKey, ...], *, though_stolen: bool = False
) -> bool:
    """Whether one of these keys signed a checkpoint, at a time at which it was the one in use.

    Whoever keeps the private half of a rotated key signs nothing of today with it; whoever stole one, nothing
    from then on, unless it counts `though_stolen`.
    """
    return any(
        _is_its_time(each, known, checkpoint.at)
        and (though_stolen or not each.is_stolen(checkpoint.at))
        and is_signed_by(checkpoint, each.certificate)
        for each in known
        if each.kid == checkpoint.kid
    )


def _is_its_time(key: SiteKey, known: tuple[SiteKey, ...], at: datetime) -> bool:
    later = [each.made_at for each in known if each.purpose is key.purpose and each.made_at > key.made_at]
    replaced = min(later, default=key.until)
    return key.made_at <= at <= min(key.until, replaced + ROTATING)


def create_site_keys(folder: Path, now: datetime, *, owner: Owner) -> tuple[SiteKey, ...]:
    """Make each key that is not there yet; what is there is left alone."""
    there = {each.purpose for each in list_site_keys(folder) if each.here}
    return tuple(_make(folder, now, purpose, owner) for purpose in Purpose if purpose not in there)


def put_back_certificates(folder: Path, certificates: Iterable[str]) -> None:
    """Write the public half of keys that were lost, so that what they sealed and signed still verifies."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    for each in certificates:
        (key,) = read_public_file(each)
        file = folder / f"{_stem(key)}.pem"
        if not file.exists():
            write_new(file, key.certificate.encode(), mode=0o644)


def rotate_site_key(folder: Path, now: datetime, purpose: Purpose, *, owner: Owner) -> SiteKey:
    """Make a new key, then remove the private half of every older one of that purpose."""
    older = [each for each in list_site_keys(folder) if each.here and each.purpose is purpose]
    if not older:
        raise SiteKeyMissingError(SETTING, f"there is no {purpose.value} key to rotate; make the keys first")
    made = _make(folder, now, purpose, owner)
    # Read back before anything is given up.
    _private_half(folder, made)
    for each in older:
        # Another that rotates at the same time may have removed it.
        (folder / f"{_stem(each)}.key").unlink(missing_ok=True)
    return made


def mark_stolen(folder: Path, key: SiteKey, since: datetime, now: datetime, *, owner: Owner) -> None:
    """Put a new key in its place if it is in use, remove its private half, and say since when it is stolen.

    Done again, it does nothing more.
    """
    in_use = [each for each in list_site_keys(folder) if each.here and each.purpose is key.purpose]
    if [each.kid for each in in_use] == [key.kid]:
        _make(folder, now, key.purpose, owner)
    (folder / f"{_stem(key)}.key").unlink(missing_ok=True)
    marker = folder / f"{_stem(key)}.stolen"
    if not marker.exists():
        write_new(marker, since.astimezone(UTC).isoformat().encode(), mode=0o644)


def list_site_keys(folder: Path) -> tuple[SiteKey, ...]:
    """Every key whose certificate is in the folder, the newest first; none where there is no folder."""
    found = [_read_public(folder, each) for each in sorted(folder.glob("*.pem"))]
    return tuple(sorted(found, key=lambda each: (each.made_at, each.kid), reverse=True))


def load_site_keys(folder: Path, now: datetime | None) -> SiteKeys:
    """The keys in use; a key that is missing, unreadable or not valid now is an error and nothing else.

    Without a moment one that has ended is none: for whoever verifies.
    """
    listed = list_site_keys(folder)
    seal = _in_use(listed, Purpose.SEAL, now)
    checkpoint = _in_use(listed, Purpose.CHECKPOINT, now)
    seal_private, checkpoint_private = _private_half(folder, seal), _private_half(folder, checkpoint)
    assert isinstance(seal_private, ec.EllipticCurvePrivateKey)  # noqa: S101  # as its certificate says
    assert isinstance(checkpoint_private, ed25519.Ed25519PrivateKey)  # noqa: S101  # as above
    return SiteKeys(
        seal=seal,
        checkpoint=checkpoint,
        known=listed,
        seal_private=seal_private,
        checkpoint_private=checkpoint_private,
    )


def public_file(keys: tuple[SiteKey, ...]) -> str:
    """What a verifier needs of the site: every certificate, old ones included, in one PEM file."""
    stolen = (f"{_STOLEN} {each.stolen_from.isoformat()} {each.kid}\n" for each in keys if each.stolen_from)
    return "".join((*(each.certificate for each in keys), *stolen))


@lru_cache(maxsize=16)
def read_public_file(text: str) -> tuple[SiteKey, ...]:
    """The keys of a file that `public_file` wrote; SiteKeyUnreadableError for anything else."""
    try:
        stolen = {kid: _since(since) for since, kid in _STOLEN_LINE.findall(text)}
        described = tuple(_described(chain, here=False) for chain in chains_in(text))
        read = tuple(replace(each, stolen_from=stolen.get(each.kid)) for each in described)
    except ValueError:
        read = ()
    if not read:
        raise SiteKeyUnreadableError("site.pem", "the file does not hold a site's certificates")
    return read


def _make(folder: Path, now: datetime, purpose: Purpose, owner: Owner) -> SiteKey:
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    private: PrivateKey = (
        ec.generate_private_key(ec.SECP256R1())
        if purpose is Purpose.SEAL
        else ed25519.Ed25519PrivateKey.generate()
    )
    made = _described(certify(private, now, purpose.value, owner), here=True)
    written = private.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    # The certificate last: with it the time of the key before ends, though nothing can be signed by it yet.
    write_new(folder / f"{_stem(made)}.key", written, mode=0o600)
    write_new(folder / f"{_stem(made)}.pem", made.certificate.encode(), mode=0o644)
    return made


def _in_use(listed: tuple[SiteKey, ...], purpose: Purpose, now: datetime | None) -> SiteKey:
    """The newest key of a purpose whose private half is here."""
    usable = (each for each in listed if each.here and each.purpose is purpose and not each.stolen_from)
    own = next(usable, None)
    if own is None:
        how = f"there is no {purpose.value} key; make it with `countersign keys create`, or restore a backup"
        raise SiteKeyMissingError(SETTING, how)
    if now is not None and now >= own.until:
        how = f"the {purpose.value} key ended on {own.until:%Y-%m-%d}; run `countersign keys rotate`"
        raise SiteKeyExpiredError(SETTING, how)
    if now is not None and now < own.made_at:
        how = f"the {purpose.value} key begins on {own.made_at:%Y-%m-%d %H:%M} UTC: look at the clock"
        raise SiteKeyExpiredError(SETTING, how)
    return own


def _read_public(folder: Path, path: Path) -> SiteKey:
    here = (folder / f"{path.stem}.key").exists()
    try:
        (found,) = read_public_file(path.read_text(encoding="ascii"))
    except (ValueError, OSError, SiteKeyUnreadableError):
        raise SiteKeyUnreadableError(SETTING, f"{path.name} does not hold a certificate") from None
    if path.stem != _stem(found):
        raise SiteKeyUnreadableError(SETTING, f"{path.name} holds the certificate of another key")
    return replace(found, here=here, stolen_from=_stolen_from(folder / f"{path.stem}.stolen"))


def _stolen_from(marker: Path) -> datetime | None:
    if not marker.exists():
        return None
    try:
        return _since(marker.read_text(encoding="ascii"))
    except (ValueError, OSError):
        raise SiteKeyUnreadableError(SETTING, f"{marker.name} does not say since when") from None


def _since(text: str) -> datetime:
    """The moment of a declaration; ValueError for anything else, and for one without its offset."""
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None:
        raise ValueError
    return moment


def _private_half(folder: Path, key: SiteKey) -> PrivateKey:
    path = folder / f"{_stem(key)}.key"
    try:
        with path.open("rb") as file:
            open_to_others = os.fstat(file.fileno()).st_mode & 0o077
            private = serialization.load_pem_private_key(file.read(), password=None)
    except OSError as error:
        # Of another user, most often: bringing it back from a backup would mend nothing.
        raise SiteKeyUnreadableError(SETTING, f"{path.name} cannot be read: {error.strerror}") from None
    except (ValueError, TypeError):
        raise SiteKeyUnreadableError(SETTING, f"{path.name} does not hold a key") from None
    if open_to_others:
        how = f"others than its owner can reach {path.name}; chmod 600 it"
        raise SiteKeyUnreadableError(SETTING, how)
    if not isinstance(private, ec.EllipticCurvePrivateKey | ed25519.Ed25519PrivateKey):
        raise SiteKeyUnreadableError(SETTING, f"{path.name} holds a key of another kind")
    if private.public_key() != certificate_in(key.certificate).public_key():
        raise SiteKeyUnreadableError(SETTING, f"{path.name} does not belong to its certificate")
    return private


def _described(text: str, *, here: bool) -> SiteKey:
    """The key of a certificate (PEM), with the root behind it; ValueError for anything else."""
    certificate = certificate_in(text)
    public = certificate.public_key()
    purpose = Purpose.CHECKPOINT if isinstance(public, ed25519.Ed25519PublicKey) else Purpose.SEAL
    return SiteKey(
        kid=_kid(public),
        purpose=purpose,
        certificate=one_form(text),
        made_at=certificate.not_valid_before_utc,
        until=certificate.not_valid_after_utc,
        here=here,
        installation=installation_in(certificate),
    )


def _kid(public: object) -> str:
    """The thumbprint (RFC 7638) of a public key; ValueError for a kind that no site key is of."""
    if isinstance(public, ed25519.Ed25519PublicKey):
        return key_id(public_text(OKPKey.import_key(public)))
    if isinstance(public, ec.EllipticCurvePublicKey) and isinstance(public.curve, ec.SECP256R1):
        return key_id(public_text(ECKey.import_key(public)))
    raise ValueError("a site key is Ed25519 or P-256")


def _stem(key: SiteKey) -> str:
    return f"{key.purpose.value}-{key.kid}"
