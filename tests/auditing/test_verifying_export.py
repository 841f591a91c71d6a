"""An export by its manifest: what was cut, changed, swapped or added is named, and it is the site's."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from app.auditing.verifying_export import ExportAnswer, ExportVerification, verify_export
from app.cli import main
from app.keys import list_site_keys, load_site_keys, public_file
from app.records.verification import NotReadable
from app.reports.hashed_file import HashedFile
from app.reports.manifest import Manifest, SignedManifest, is_export, manifest_of, read_manifest
from tests.factories.site_keys import site_keys

AT = datetime(2031, 5, 2, 12, tzinfo=UTC)


def write(folder: Path, files: dict[str, bytes], *, name: str, signed: bool = True) -> Path:
    parts = []
    for each, content in files.items():
        with HashedFile(folder, each) as file:
            file.write(content)
            file.rows = content.count(b"\n")
        parts.append(file.part)
    keys = load_site_keys(site_keys(), AT)
    manifest = Manifest(
        export="export-1",
        installation="installation-1",
        form="csv",
        formats=("countersign.table/1",),
        from_date="2031-05-01",
        to_date="2031-05-02",
        zone="Europe/Dublin",
        deidentified=False,
        left_out=(("ward-4-east", "12"),),
        asked_by="quill",
        asked_at=AT,
        rows=sum(each.rows for each in parts),
        parts=tuple(parts),
        checkpoint=keys.sign_checkpoint(size=3, root="0" * 64, at=AT),
    )
    signature = keys.sign_manifest(manifest.statement) if signed else ""
    content = SignedManifest(manifest=manifest, kid=keys.checkpoint.kid, signature=signature).content()
    manifest_of(folder / name).write_bytes(content)
    return folder / name


@pytest.fixture
def one(tmp_path: Path) -> Path:
    return write(tmp_path, {"records.csv": b"one\ntwo\n"}, name="records.csv")


@pytest.fixture
def many(tmp_path: Path) -> Path:
    files = {f"years/month=2031-0{number}/part.parquet": b"x" * number for number in (4, 5)}
    return write(tmp_path, files, name="years")


def verified(path: Path) -> ExportVerification:
    found = verify_export(path, public_file(list_site_keys(site_keys())))
    assert isinstance(found, ExportVerification)
    return found


def faults(path: Path) -> list[tuple[str, str]]:
    return [(each.of, each.says) for each in verified(path).answers if each.holds is False]


def test_a_whole_export_holds_by_its_file_its_folder_and_its_manifest(one: Path) -> None:
    found = verified(one)

    assert (found.holds, found.whole) == (True, True)
    assert "2 rows or lines, of 2031-05-01 to 2031-05-02" in found.what
    assert verified(manifest_of(one)) == found
    assert is_export(one)
    assert is_export(manifest_of(one))


def test_each_file_of_a_folder_is_looked_at(many: Path) -> None:
    assert verified(many).holds
    assert [each.of for each in verified(many).answers][2:] == [
        "years/month=2031-04/part.parquet",
        "years/month=2031-05/part.parquet",
    ]


def test_whoever_keeps_a_file_may_call_it_otherwise(one: Path) -> None:
    other = one.with_name("other.csv")
    manifest_of(one).replace(manifest_of(other))
    one.replace(other)

    assert verified(other).holds


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"one\ntw", "it was cut: 6 bytes of 8"),
        (b"one\ntwO\n", "it was changed, or is another file"),
        (b"one\ntwo\nthree\n", "it is another file, or was added to"),
    ],
)
def test_a_file_that_was_cut_changed_or_swapped_is_named(one: Path, content: bytes, says: str) -> None:
    one.chmod(0o600)
    one.write_bytes(content)

    assert faults(one) == [("records.csv", says)]


def test_files_of_a_folder_that_were_swapped_lost_or_added_are_named(many: Path) -> None:
    april, may = sorted(many.rglob("*.parquet"))
    four, five = april.read_bytes(), may.read_bytes()
    april.write_bytes(five)
    may.write_bytes(four)
    (many / "another").write_text("more")
    assert [of for of, _ in faults(many)] == [
        "years/month=2031-04/part.parquet",
        "years/month=2031-05/part.parquet",
        "years/another",
    ]
    may.unlink()
    assert ("years/month=2031-05/part.parquet", "it is missing") in faults(many)


@pytest.mark.parametrize("name", ["export", "from_date", "deidentified", "asked_by", "left_out"])
def test_a_changed_manifest_does_not_hold(one: Path, name: str) -> None:
    told = json.loads(manifest_of(one).read_bytes())
    told["manifest"][name] = {"deidentified": True, "left_out": []}.get(name, "another")
    manifest_of(one).write_bytes((json.dumps(told, separators=(",", ":"), sort_keys=True) + "\n").encode())

    assert [of for of, _ in faults(one)] == ["manifest"]


def test_one_of_another_site_or_signed_after_its_key_ended_does_not_hold(one: Path) -> None:
    signed = read_manifest(manifest_of(one).read_bytes())
    assert isinstance(signed, SignedManifest)
    other = SignedManifest(manifest=signed.manifest, kid="x" * 43, signature=signed.signature)
    manifest_of(one).write_bytes(other.content())
    assert [of for of, _ in faults(one)] == ["manifest"]
    late = {**vars(signed.manifest), "asked_at": AT + timedelta(days=9999)}
    keys = load_site_keys(site_keys(), AT)
    manifest = Manifest(**late)
    forged = SignedManifest(
        manifest=manifest, kid=signed.kid, signature=keys.sign_manifest(manifest.statement)
    )
    manifest_of(one).write_bytes(forged.content())
    assert [of for of, _ in faults(one)] == ["manifest"]


def test_an_unsigned_one_is_not_asked_whose_it_is(tmp_path: Path) -> None:
    found = verified(write(tmp_path, {"records.csv": b""}, name="records.csv", signed=False))

    assert (found.holds, found.whole, found.is_signed) == (True, False, False)
    assert found.answers[0] == ExportAnswer(
        of="manifest",
        holds=None,
        says="No key of the site was at hand when it was made: nothing tells whose it is.",
    )


@pytest.mark.parametrize(
    "content", [b"", b"{}", b"[]", b'{"manifest":{}}', b"\xff", b"[" * 9999, b'{"manifest":{"format":"x"}}']
)
def test_what_is_no_manifest_is_refused(one: Path, content: bytes) -> None:
    manifest_of(one).write_bytes(content)

    assert isinstance(verify_export(one, public_file(list_site_keys(site_keys()))), NotReadable)


def test_a_manifest_that_names_a_file_elsewhere_is_refused(one: Path) -> None:
    told = json.loads(manifest_of(one).read_bytes())
    for name in ("/etc/hostname", "../records.csv"):
        told["manifest"]["parts"][0]["name"] = name
        manifest_of(one).write_bytes(json.dumps(told, separators=(",", ":"), sort_keys=True).encode() + b"\n")

        assert isinstance(verify_export(one, public_file(list_site_keys(site_keys()))), NotReadable)


@pytest.mark.parametrize("place", [("rows",), ("parts", 0, "rows"), ("parts", 0, "size")])
@pytest.mark.parametrize("number", ["abc", None, True, 1.5])
def test_a_number_that_is_none_makes_it_no_manifest(
    one: Path, place: tuple[str | int, ...], number: object
) -> None:
    told = json.loads(manifest_of(one).read_bytes())
    *parents, last = place
    inside = told["manifest"]
    for each in parents:
        inside = inside[each]
    inside[last] = number
    manifest_of(one).write_bytes((json.dumps(told, separators=(",", ":"), sort_keys=True) + "\n").encode())

    assert isinstance(verify_export(one, public_file(list_site_keys(site_keys()))), NotReadable)


@pytest.mark.parametrize(("signed", "status"), [(True, 0), (False, 2)])
def test_the_command_says_by_its_status_whether_anything_tells_whose_it_is(
    tmp_path: Path, *, signed: bool, status: int
) -> None:
    path = write(tmp_path, {"records.csv": b""}, name="records.csv", signed=signed)
    certificates = tmp_path / "site.pem"
    certificates.write_text(public_file(list_site_keys(site_keys())), encoding="ascii")
    ran = CliRunner().invoke(main, ["verify", str(path), "--site", str(certificates)])

    assert ran.exit_code == status, ran.output
    assert ("NOTHING TELLS WHOSE IT IS" in ran.output) is not signed
