"""Make samples of everything that is kept or handed out.

`python -m tests.samples.make` makes `today` anew: whenever a format has changed since the last release.
`python -m tests.samples.make --release 1.0.0` writes `released/1.0.0` in its place, which stays as it is for
ever: every later program must verify it. Beside each folder a list says which file has which digest and
which formats.
"""

import argparse
import json
import shutil
import sqlite3
import sys
import tempfile
from contextlib import closing
from datetime import timedelta
from hashlib import sha256
from pathlib import Path

from app.accounting import AccountCase, balance, read_account
from app.auditing.checkpointing import HistoryChanged, checkpoint_file
from app.auditing.verifying import PublicMaterial, read_material, verify_file
from app.comparison import Case, evaluate, read_case
from app.judging.account import account_case
from app.keys import list_site_keys, load_site_keys, open_envelope, public_file
from app.records.canonical import canonical
from app.records.checkpoint import file_content
from app.records.kept import SOURCES, KeptReading
from app.records.sealed import reading_context
from app.records.verification import Verification
from app.site.loading import account_of
from app.storage import Reader
from app.workflow.copies import Done, Installation, make_copy
from app.workflow.credentials import Signatory
from app.workflow.export_jobs import FORMS, READINGS, Asked
from app.workflow.export_making import make_export
from app.workflow.exporting import FEWEST_DAYS, Span, Wanted, export_at_host
from tests.samples.formats import formats_in
from tests.samples.life import every_kind, every_table
from tests.story.people import QUILL
from tests.story.ward import BEGAN, Ward

HERE = Path(__file__).parent
RELEASED = HERE / "released"
# One sealed file of each table that has them.
SEALED = {"pdf": "record.pdf", "what_followed": "what-followed.pdf", "competency_file": "competency.pdf"}


def write_samples(folder: Path) -> None:
    """Everything, into a folder that is not there."""
    folder.mkdir()
    with tempfile.TemporaryDirectory() as work:
        with (
            every_kind(f"sqlite:///{work}/kinds.sqlite3") as (ward, infusion),
            ward.site.store.read() as reader,
        ):
            _write_records(reader, folder / "records")
            _write_account(reader, infusion, folder)
        file = Path(work) / "tables.sqlite3"
        with every_table(f"sqlite:///{file}") as ward:
            _write_exports(ward, folder / "exports")
            _write_public_material(ward, folder)
            with ward.site.store.read() as reader:
                _write_documents(ward, reader, folder)
            _write_store(ward, file, folder / "store")
    _write_answers(folder)


def _write_records(reader: Reader, folder: Path) -> None:
    """The record of each kind of check."""
    folder.mkdir()
    for _, check in reader.opened_checks(after=0, limit=100):
        for frozen in reader.frozen_records(check):
            (folder / f"{frozen.told['check']['kind']}.json").write_bytes(frozen.document)


def _write_account(reader: Reader, infusion: str, folder: Path) -> None:
    account = account_case(account_of(reader, infusion).written(), {"display_step_amount": "0.1 mg"})
    read = read_account(canonical(account))
    assert isinstance(read, AccountCase)
    _write(folder / "account.json", account)
    _write(folder / "balance.json", balance(read).as_json())


def _write_documents(ward: Ward, reader: Reader, folder: Path) -> None:
    """What is in the store, as whoever is handed it has it before them."""
    rules = folder / "rules"
    rules.mkdir()
    for what, published in reader.published(at=ward.now).items():
        (rules / f"{what.replace('-', '_')}.json").write_bytes(published.content)
    for table, name in SEALED.items():
        (folder / name).write_bytes(next(iter(reader.rows(table)))["content"])
    first = next(iter(reader.opened_checks(after=0, limit=1)))[1]
    _write_reading(ward, next(each for each in reader.readings(first) if each.subject == SOURCES), folder)
    case = next(each for each in reader.comparisons(first) if each.subject == SOURCES).opened["case"]
    read = read_case(canonical(case))
    assert isinstance(read, Case)
    _write(folder / "case.json", case)
    _write(folder / "result.json", evaluate(read).as_json())
    (folder / "order.json").write_bytes(next(iter(reader.rows("order_message")))["message"])
    (folder / "log-entry.json").write_bytes(next(iter(reader.leaves(after=0, up_to=1))))


def _write_reading(ward: Ward, kept: KeptReading, folder: Path) -> None:
    context = reading_context(kept.check, kept.subject, kept.round, kept.person)
    (folder / "reading.envelope").write_bytes(kept.envelope)
    (folder / "reading.json").write_bytes(open_envelope(ward.site.key, context, kept.envelope))


def _write_public_material(ward: Ward, folder: Path) -> None:
    keys = load_site_keys(ward.site.site_keys, ward.now)
    written = checkpoint_file(ward.site, keys, ward.wait().now)
    assert not isinstance(written, HistoryChanged)
    (folder / "checkpoint.json").write_bytes(file_content(written))
    certificates = public_file(list_site_keys(ward.site.site_keys))
    (folder / "site.pem").write_text(certificates, encoding="ascii")


def _write_exports(ward: Ward, folder: Path) -> None:
    """Each form as it is, and de-identified."""
    folder.mkdir()
    # Of so many days as one that is de-identified has at least.
    span = Span(first=BEGAN.date() - timedelta(days=FEWEST_DAYS), last=ward.now.date())
    for form in FORMS:
        for bare in (False, True) if form != READINGS else (False,):
            who = Signatory(login=QUILL.login, secret=QUILL.secret)
            wanted = Wanted(span=span, form=form, deidentified=bare)
            asked = export_at_host(ward.site, ward.wait().now, who, wanted)
            assert isinstance(asked, Asked), asked
            name = f"{'deidentified' if bare else 'identified'}.{form}"
            make_export(ward.site, asked, folder, name=name, tell=lambda _rows: None)


def _write_store(ward: Ward, file: Path, folder: Path) -> None:
    """A copy as `countersign backup` makes it: one file, which either engine is filled from."""
    small = file.with_name("small.sqlite3")
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA page_size = 1024")
        connection.execute(f"VACUUM INTO '{small}'")  # a path of this process
    installation = Installation(
        address=f"sqlite:///{small}",
        owner=f"sqlite:///{small}",
        application=ward.site.key,
        application_file=file.with_name("keys") / "application.key",
        site_keys=ward.site.site_keys,
    )
    made = make_copy(installation, folder, ward.wait().now, lambda _step: None)
    assert isinstance(made, Done), made
    assert not made.tally.failures, made.tally.failing
    _write(folder.parent / "store-answers.json", made.tally.as_data())


def _write_answers(folder: Path) -> None:
    """What verification says of the sealed record, as data."""
    material = read_material((folder / "site.pem").read_bytes(), (folder / "checkpoint.json").read_bytes())
    assert isinstance(material, PublicMaterial)
    found = verify_file((folder / SEALED["pdf"]).read_bytes(), material)
    assert isinstance(found, Verification)
    _write(folder / "answers.json", found.as_data())


def _write(file: Path, document: object) -> None:
    file.write_text(json.dumps(document, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")


def files_of(folder: Path) -> dict[str, Path]:
    """Every file of a folder, by its name in it."""
    return {each.relative_to(folder).as_posix(): each for each in sorted(folder.rglob("*")) if each.is_file()}


def list_of(folder: Path) -> Path:
    """Where the list of a folder stands: beside it."""
    return folder.with_name(f"{folder.name}.json")


def _write_list(folder: Path) -> None:
    formats: dict[str, list[str]] = {}
    digests = {}
    for name, file in files_of(folder).items():
        digests[name] = sha256(file.read_bytes()).hexdigest()
        for said in sorted(formats_in(file)):
            formats.setdefault(said, []).append(name)
    told = {"formats": dict(sorted(formats.items())), "sha256": digests}
    list_of(folder).write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")


def main(arguments: list[str] | None = None) -> None:
    """Today's samples over what is there, or those of a release, never over what is there."""
    asked = argparse.ArgumentParser(description="Make the samples of everything that is kept.")
    asked.add_argument("--release", metavar="VERSION", default="")
    asked.add_argument("--into", metavar="FOLDER", type=Path, default=None, help="To try it elsewhere.")
    wanted = asked.parse_args(arguments)
    place = wanted.into or (RELEASED if wanted.release else HERE)
    folder = place / (wanted.release or "today")
    if wanted.release and (folder.exists() or list_of(folder).exists()):
        sys.exit(f"{folder} is there already: what was released stays as it is")
    place.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=place) as work:
        write_samples(Path(work) / "samples")
        shutil.rmtree(folder, ignore_errors=True)
        (Path(work) / "samples").rename(folder)
    _write_list(folder)
    if wanted.release and wanted.into is None:
        # The release says all of it, until a format changes again.
        shutil.rmtree(HERE / "today", ignore_errors=True)
        list_of(HERE / "today").unlink(missing_ok=True)
    sizes = {name: file.stat().st_size for name, file in files_of(folder).items()}
    for name, size in sizes.items():
        print(f"{name}: {size:,} bytes")  # noqa: T201  # a command's answer
    print(f"{folder}: {sum(sizes.values()):,} bytes")  # noqa: T201  # the same


if __name__ == "__main__":
    main()
