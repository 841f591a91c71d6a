"""How fast a whole database verifies, beside the same hashes and signature checks alone.

Run from the project's folder: `PYTHONPATH=. .venv/bin/python tests/bench/bench_verify.py [RECORDS]`. The
floor: SHA-256 over every entry of the log as leaf and node, every record and every file; two Ed25519 checks
and one P-256 check for each record, with keys that were read before. CPU time, because absolute times on a
shared machine mean little; the clock tells what several processes gain, in a quiet moment. What the rest goes
to is measured by a profile of part of the work, which slows small steps: its shares are rough.
Making pages again is measured apart, on the record whose pages were really rendered.
"""

import cProfile
import hashlib
import json
import pstats
import sys
import tempfile
import time
import warnings
from collections.abc import Iterator
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec, ed25519
from cryptography.hazmat.primitives.hashes import SHA256
from joserfc.util import urlsafe_b64decode, urlsafe_b64encode

from app.auditing.verifying_here import verify_here
from app.auditing.verifying_store import Wanted, verify_store
from app.records.proofs import Tree
from app.records.store_verification import Failing, Progress
from app.storage import migrate
from app.workflow.flat_rows import make_rows
from tests.bench.many_records import Copier
from tests.story.ward import Ward, open_ward

RECORDS = 1000
SAMPLE = 20
PROFILED = 100
PROCESSES = 2
AIM = 2

# The log is always read whole: a run over part of the checks bears only their part of it.
LOG = ("verifying_log.py", "steps")
# Where the time goes, by the function that a step of the work begins with.
STEPS = {
    "the seal recognised and its signature verified": ("seal_as_written.py", "is_sealed_as_written"),
    "attachments read from the PDF": ("seal_as_written.py", "attachments_of_sealed"),
    "the file's proof: both signatures, the keys' entries": ("verifying_quickly.py", "_holds_by_log"),
    "rows of fifty checks read at a time": ("read_ahead.py", "take"),
    "each check folded": ("recomputing.py", "load_stored"),
    "readings opened, their commitments": ("invariants.py", "_reading_stands"),
    "every comparison made again from the readings": ("recomputing.py", "recomputed"),
    "the record made again from what is stored": ("recomputing.py", "differing_in_record"),
    "stored signatures verified with the log's keys": ("recomputing.py", "signed_as_stored"),
    "rows beside the log": ("verifying_rows.py", "failing_rows_of_check"),
    "entries held against their columns": ("verifying_checks.py", "_entries"),
    "the log read, its tree made": LOG,
}


def floor(copier: Copier, leaves: list[bytes]) -> float:
    """CPU seconds of the hashes and signature checks alone."""
    seal = x509.load_pem_x509_certificate(copier.keys.seal.certificate.encode()).public_key()
    assert isinstance(seal, ec.EllipticCurvePublicKey)
    people = {public: _ed25519(public) for public, _, _ in copier.signatures}
    checks = [(people[public], *_signed(record, jws)) for public, record, jws in copier.signatures]
    begun = time.process_time()
    Tree(leaves).root(len(leaves))
    for content in copier.files:
        hashlib.sha256(content).digest()
    for _, record, _ in copier.signatures[::2]:
        hashlib.sha256(record).digest()
    for key, signature, message in checks:
        key.verify(signature, message)
    for message, signature in copier.seals:
        seal.verify(signature, message, ec.ECDSA(SHA256()))
    return time.process_time() - begun


def _ed25519(public: str) -> ed25519.Ed25519PublicKey:
    return ed25519.Ed25519PublicKey.from_public_bytes(urlsafe_b64decode(json.loads(public)["x"].encode()))


def _signed(record: bytes, jws: str) -> tuple[bytes, bytes]:
    """Signature and signing input (RFC 7515, 5.2)."""
    header, _, signature = jws.encode().split(b".")
    return urlsafe_b64decode(signature), header + b"." + urlsafe_b64encode(record)


def verified(ward: Ward, wanted: Wanted) -> Progress:
    """Run through; everything must hold, or nothing was measured."""
    steps = verify_store(ward.site, ward.now, wanted)
    assert isinstance(steps, Iterator)
    last = Progress(entries=0)
    for step in steps:
        assert not isinstance(step, Failing), step.says
        last = step if isinstance(step, Progress) else last
    return last


def shares(ward: Ward, after: int, part: float) -> list[tuple[str, float]]:
    """Each step's share of the time for the records after a position, which are this part of all."""
    profile = cProfile.Profile()
    profile.enable()
    verified(ward, Wanted(pages=False, after=after))
    profile.disable()
    # (file, line, name) -> (calls, primitive calls, own time, time with all below, callers)
    found = pstats.Stats(profile).stats  # type: ignore[attr-defined]  # not in the type stubs
    whole = sum(own for _, _, own, _, _ in found.values())
    spent = {(Path(file).name, name): below for (file, _, name), (_, _, _, below, _) in found.items()}
    whole -= spent[LOG] * (1 - part)
    spent[LOG] *= part
    return [(words, spent.get(step, 0.0) / whole) for words, step in STEPS.items()]


def main() -> int:
    """Measure, print side by side, and say whether the aim is kept."""
    warnings.filterwarnings("ignore", "unclosed file .*sRGB2014", ResourceWarning)
    records = int(sys.argv[1]) if len(sys.argv) > 1 else RECORDS
    with tempfile.TemporaryDirectory() as folder:
        address = f"sqlite:///{Path(folder) / 'many.sqlite3'}"
        migrate(address)
        with open_ward(address) as ward:
            copier = Copier(ward)
            for number in range(records):
                copier.copy(number)
            for number in range(records):
                copier.issue(number)
            assert all(each.is_right for each in make_rows(ward.site, ward.now))
            return _measured(ward, copier, records)


def _measured(ward: Ward, copier: Copier, records: int) -> int:
    with ward.site.store.read() as reader:
        leaves = list(reader.leaves(after=0, up_to=reader.head()))
        opened = reader.opened_checks(after=0, limit=records + 1)
    alone = floor(copier, leaves)
    begun, at = time.process_time(), time.perf_counter()
    last = verified(ward, Wanted(pages=False))
    whole, by_one = time.process_time() - begun, time.perf_counter() - at
    at = time.perf_counter()
    assert verified(ward, Wanted(pages=False, processes=PROCESSES)) == last
    by_several = time.perf_counter() - at
    print(f"{last.records} records, {last.entries} entries of the log; everything holds")
    print(f"floor          {alone:7.2f} s   {records / alone:8.0f} records a second")
    print(f"without pages  {whole:7.2f} s   {last.records / whole:8.0f} records a second")
    print(f"ratio          {whole / alone:7.1f}     aim: at most {AIM}")
    print(
        f"by the clock   {by_one:7.2f} s by one process, {by_several:.2f} s by {PROCESSES}: "
        f"{last.records / by_several:.0f} records a second"
    )
    profiled = min(PROFILED, records)
    print(f"\nwhere the time goes ({profiled} records, rough):")
    after, _ = opened[max(0, len(opened) - PROFILED - 1)]
    for words, share in shares(ward, after, profiled / records):
        print(f"  {share * 100:5.1f} %  {words}")
    first = copier.stored.pdfs[1]
    assert first is not None
    begun = time.process_time()
    for _ in range(SAMPLE):
        found = verify_here(ward.site, ward.now, first.content)
        assert getattr(found, "holds", False)
    paged = (time.process_time() - begun) / SAMPLE
    print(f"\nwith its pages made again: {paged * 1000:.0f} ms a record ({SAMPLE} times)")
    return 0 if whole / alone <= AIM else 1


if __name__ == "__main__":
    sys.exit(main())
