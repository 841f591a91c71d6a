"""`countersign rows`: what is missing is added, what was changed is named, and all can be made anew."""

import pytest
from click.testing import CliRunner, Result
from sqlalchemy import text

from app.auditing.invariants import check_invariants
from app.cli import main, rows
from app.config import Settings
from app.records.kept import SOURCES
from app.records.state import Phase
from app.site.installation import Site
from app.workflow.reviewing import Done, Place, review
from tests.story.people import RUTH
from tests.story.ward import Ward
from tests.support.tampering import as_database_administrator

ALL_AWAY = ("finding_reached", "finding_settled", "ended_check", "finding")


@pytest.fixture
def lived(ward: Ward, database_url: str, monkeypatch: pytest.MonkeyPatch) -> Ward:
    """A check that was started and one that was given up, of which a finding was looked through."""

    def opened(_settings: Settings) -> Site:
        return ward.site

    monkeypatch.setenv("DATABASE_URL", database_url)
    monkeypatch.setattr(rows, "open_site", opened)
    ward.at_stage(Phase.STARTED).at_stage(Phase.ABANDONED)
    place = Place(check=ward.check, subject=SOURCES, round=1, number=1)
    assert review(ward.site, ward.act(RUTH), RUTH.roles, place, text="") == Done()
    return ward


def run(*words: str) -> Result:
    return CliRunner().invoke(main, ["rows", *words])


def broken(ward: Ward) -> list[str]:
    return [each.what for each in check_invariants(ward.site, ward.now)]


def test_what_is_missing_is_named_and_made_again_from_the_rest(lived: Ward, database_url: str) -> None:
    whole = [list(_rows_of(lived, table)) for table in ALL_AWAY]
    assert run().output == "2 checks: 0 rows were missing and were added\n"
    with as_database_administrator(database_url) as connection:
        for table in ALL_AWAY:
            connection.execute(text(f"DELETE FROM {table}"))  # noqa: S608  # a name of this file
    assert any("ended_check: a row that should be there is not" in each for each in broken(lived))
    with lived.site.store.read() as reader:
        assert reader.lacks_rows()

    added = run()

    assert added.exit_code == 0, added.output
    assert f"{sum(map(len, whole))} rows were missing and were added" in added.output
    assert [list(_rows_of(lived, table)) for table in ALL_AWAY] == whole
    assert broken(lived) == []


def _rows_of(ward: Ward, table: str) -> list[dict[str, object]]:
    with ward.site.store.read() as reader:
        return [dict(each) for each in reader.rows(table)]


def test_one_that_was_changed_is_named_and_stays_until_all_are_made_anew(
    lived: Ward, database_url: str
) -> None:
    with as_database_administrator(database_url) as connection:
        connection.execute(text("UPDATE finding SET severity = 'note' WHERE severity = 'stop'"))
    says = "finding.severity: it is not what the check comes to"
    assert any(each.startswith(says) for each in broken(lived))

    named = run()

    assert named.exit_code == 1
    assert f"DIFFERS  check {lived.check}: `countersign verify --store` says where" in named.output
    assert broken(lived) != []
    made = run("--anew")
    assert made.exit_code == 0, made.output
    assert broken(lived) == []
    with pytest.raises(Exception, match="append_only"), lived.site.store.write() as tx:
        tx._connection.execute(text("DELETE FROM finding_settled"))  # noqa: SLF001  # its triggers are back
