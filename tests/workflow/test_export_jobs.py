"""An export on the web: in a process of its own, two at once, begun anew when killed, never half a file."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import ExitStack
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from app.auditing.verifying_export import ExportVerification, verify_export
from app.keys import list_site_keys, public_file
from app.records.state import Phase
from app.workflow import export_apart, export_jobs
from app.workflow.export_jobs import (
    AT_ONCE,
    TRIES,
    Asked,
    Job,
    Standing,
    add_job,
    find_job,
    find_turn,
    folders,
    jobs,
    remove_old,
    take_turn,
)
from app.workflow.exporting import Span, Wanted, ask_for_export, begin_exports, tend_exports
from tests.story.people import QUILL
from tests.story.ward import Ward

AT = datetime(2031, 5, 2, 12, tzinfo=UTC)
DAY = date(2031, 5, 2)
KEPT = timedelta(days=2)


def asked(number: int) -> Asked:
    return Asked(
        export=f"export-{number}",
        form="jsonl",
        first=DAY,
        last=DAY,
        zone="Europe/Dublin",
        ended_from=AT - timedelta(hours=12),
        ended_before=AT,
        deidentified=False,
        left_out=frozenset({("ward-4-east", "12")}),
        by="quill",
        at=AT + timedelta(seconds=number),
    )


@pytest.fixture
def exports(tmp_path: Path) -> Path:
    return tmp_path / "exports"


def wait_for(job: Job, *standing: Standing) -> None:
    until = time.monotonic() + 60
    while job.standing not in standing:
        assert time.monotonic() < until
        time.sleep(0.02)


def test_what_was_asked_is_read_as_it_was_written(exports: Path) -> None:
    job = add_job(exports, asked(1))

    assert job.asked == asked(1)
    assert (job.standing, job.progress, job.find_file()) == (Standing.WAITING, 0, None)
    assert jobs(exports) == [job]


def test_half_a_file_is_never_an_export_and_is_thrown_away(exports: Path) -> None:
    job = add_job(exports, asked(1))
    with pytest.raises(KeyboardInterrupt), job.begin() as folder:
        _is_killed_in(folder, job)
    assert (job.standing, job.find_file()) == (Standing.WAITING, None)
    with job.begin() as folder:
        assert folder is not None
        assert list(folder.iterdir()) == []
        (folder / "records.jsonl").write_text("all of it")
        assert job.find_file() is None
    made = job.find_file()
    assert made is not None
    assert (job.standing, made.read_text()) == (Standing.MADE, "all of it")
    with job.begin() as folder:
        assert folder is None


def _is_killed_in(folder: Path | None, job: Job) -> None:
    assert folder is not None
    (folder / "records.jsonl").write_text("half of")
    assert job.standing is Standing.MAKING
    raise KeyboardInterrupt


def test_two_never_make_one_export(exports: Path) -> None:
    job = add_job(exports, asked(1))
    with job.begin() as first, jobs(exports)[0].begin() as second:
        assert first is not None
        assert second is None


def test_what_is_killed_again_and_again_is_given_up(exports: Path) -> None:
    job = add_job(exports, asked(1))
    for _ in range(TRIES):
        assert find_turn(exports) == [job]
        with pytest.raises(OSError, match="full"), job.begin():
            raise OSError("full")
    assert (job.standing, find_turn(exports)) == (Standing.FAILED, [])


def test_what_is_made_while_somebody_asks_how_far_it_is_was_not_given_up(
    exports: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = add_job(exports, asked(1))
    for _ in range(TRIES - 1):
        with pytest.raises(OSError, match="full"), job.begin():
            raise OSError("full")
    making = ExitStack()
    making.enter_context(job.begin())

    def is_made_meanwhile(_lock: Path) -> bool:
        making.close()
        return False

    monkeypatch.setattr(export_jobs, "_is_held", is_made_meanwhile)
    assert job.standing is Standing.MADE


def test_so_many_at_once_and_the_oldest_first(exports: Path) -> None:
    first, second, third = (add_job(exports, asked(number)) for number in (3, 4, 5))
    zeroth = add_job(exports, asked(2))

    assert find_turn(exports) == [zeroth, first][:AT_ONCE]
    with zeroth.begin():
        assert find_turn(exports) == [first]
        with first.begin():
            assert find_turn(exports) == []
    assert find_turn(exports) == [second, third]


DAMAGE = {
    "not json": lambda file: file.write_bytes(b"{"),
    "cut": lambda file: file.write_bytes(file.read_bytes()[:-20]),
    "another version's": lambda file: file.write_bytes(file.read_bytes().replace(b"zone", b"zones")),
    "no text": lambda file: file.write_bytes(b"\xff"),
    "another's": lambda file: file.write_bytes(file.read_bytes().replace(b"export-1", b"export-9")),
    "missing": lambda file: file.unlink(),
}


@pytest.mark.parametrize("damage", DAMAGE.values(), ids=DAMAGE)
def test_a_folder_that_cannot_be_read_hides_no_other_and_goes_in_its_time(
    exports: Path, damage: Callable[[Path], object]
) -> None:
    damaged, other = (add_job(exports, asked(number)) for number in (1, 2))
    damage(damaged.folder / "asked.json")
    # What a crash leaves of an export that nobody could see yet.
    left = exports / ".export-3"
    left.mkdir()
    for folder in (damaged.folder, left):
        os.utime(folder, (AT.timestamp(), AT.timestamp()))

    assert jobs(exports) == find_turn(exports) == [other]
    assert find_job(exports, "export-1") is None
    remove_old(exports, AT + KEPT - timedelta(seconds=1), KEPT)
    assert {*folders(exports)} == {damaged.folder, left, other.folder}
    remove_old(exports, AT + KEPT, KEPT)
    assert folders(exports) == [other.folder]


def test_no_more_processes_than_turns_ever_make_one(exports: Path) -> None:
    exports.mkdir()
    with take_turn(exports) as one, take_turn(exports) as two, take_turn(exports) as three:
        assert (one, two, three) == (True, True, False)
    with take_turn(exports) as again:
        assert again


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The ids of the processes that were started."""
    started: list[int] = []
    start = export_apart.start
    monkeypatch.setattr(export_apart, "start", lambda site, job: started.append(start(site, job).pid))
    return started


def test_it_is_made_apart_and_begun_anew_when_it_was_killed(ward: Ward, told: list[int]) -> None:
    ward.at_stage(Phase.STARTED)
    wanted = Wanted(span=Span(first=DAY, last=DAY), form="jsonl")
    job = ask_for_export(ward.site, ward.act(QUILL), QUILL.roles, wanted)
    assert isinstance(job, Job)
    (pid,) = told
    os.kill(pid, signal.SIGKILL)
    wait_for(job, Standing.WAITING, Standing.MADE)
    tend_exports(ward.site, ward.now)
    wait_for(job, Standing.MADE)
    begin_exports(ward.site)

    assert len(told) == 2
    made = job.find_file()
    assert made is not None
    with ward.site.store.read() as reader:
        (frozen,) = reader.frozen_records(ward.check)
    assert made.read_bytes().splitlines()[1] == frozen.document
    found = verify_export(made, public_file(list_site_keys(ward.site.site_keys)))
    assert isinstance(found, ExportVerification)
    assert (found.holds, found.whole) == (True, True)


def test_what_makes_an_export_loads_no_large_library_that_it_does_not_need() -> None:
    script = "import sys, app.workflow.export_making; print(sorted(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", script], capture_output=True, check=True, text=True)

    assert "'app.reports.csv_lines'" in loaded.stdout
    for large in ("pyarrow", "numpy", "scipy", "matplotlib", "weasyprint", "pint"):
        assert f"'{large}'" not in loaded.stdout
