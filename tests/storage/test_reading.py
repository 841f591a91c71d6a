"""What was added is what is found, field by field, in the stated order."""

from datetime import timedelta

import pytest

from app.records.events import Abandoned, DeviceStopped, Signed, Started, StartedWithoutCheck
from app.records.kept import Access, JoinCode, Unit
from app.storage import OfChecks, OfInfusions, Store, read_whole, tables
from app.storage.columns import UtcTime
from tests.storage import builders as build
from tests.storage.builders import NOW, later


def test_a_check_and_all_that_belongs_to_it(store: Store) -> None:
    build.fill(store)
    with store.read() as reader:
        assert reader.find_infusion("infusion-1") == build.infusion()
        assert reader.find_check("check-1") == build.check()
        assert reader.participants("check-1") == (build.participant(1), build.participant(2))
        assert reader.readings("check-1") == (build.reading(1), build.reading(2))
        assert reader.find_reading("check-1", "sources", 1, 2) == build.reading(2)
        assert reader.comparisons("check-1") == (build.comparison(),)
        assert reader.frozen_records("check-1") == (build.frozen(),)
        assert [each.person for each in reader.signatures("check-1")] == ["amari", "birk"]
        assert reader.find_pdf("check-1", 1) == build.pdf()
        assert reader.pdf_editions("check-1") == (1,)
        assert reader.followed("check-1") == (build.followed(),)
        assert reader.help_takers("check-1") == (build.help_taker(),)
        assert reader.drafts("check-1", 2, "amari") == {"sources": build.draft()}


def test_what_is_not_there_is_none_or_nothing(store: Store) -> None:
    with store.read() as reader:
        assert reader.find_infusion("x") is None
        assert reader.find_check("x") is None
        assert reader.find_reading("x", "sources", 1, 1) is None
        assert not reader.comparisons("x")
        assert reader.find_pdf("x", 1) is None
        assert not reader.followed("x")
        assert reader.find_code("x") is None
        assert reader.find_person("x") is None
        assert reader.find_person_by_login("x") is None
        assert reader.find_session("x") is None
        assert not reader.drafts("x", 1, "x")
        assert reader.find_throttle("x") is None
        assert reader.find_unit("x") is None
        assert reader.published(at=NOW) == {}
        assert reader.site_data_version("packs", "1") is None
        assert not reader.participants("x")
        assert not reader.readings("x")
        assert not reader.entries("x")
        assert not reader.uncompared()
        assert not reader.unissued()


def test_lists_of_checks(store: Store) -> None:
    with store.write() as tx:
        build.add_ward(tx)
        tx.add_unit(Unit(id="ward-6", name="Another ward"))
        tx.add_infusion(build.infusion(id="old", opened_at=later(-60)))
        build.add_joined_check(tx)
        for number in (2, 3):
            tx.add_check(build.check(id=f"check-{number}", opened_at=later(number)))
        tx.add_participant(build.participant(1, check="check-3"))
        tx.add_infusion(build.infusion(id="elsewhere", unit="ward-6"))
        tx.add_check(build.check(id="elsewhere", infusion="elsewhere", unit="ward-6"))

    def ids(checks: tuple[object, ...]) -> list[str]:
        return [check.id for check in checks]  # type: ignore[attr-defined]  # checks and infusions

    with store.read() as reader:
        assert ids(reader.checks_of_infusion("infusion-1")) == ["check-1", "check-2", "check-3"]
        assert ids(reader.infusions_at("ward-5", "12")) == ["infusion-1", "old"]
        assert ids(reader.checks_that(OfChecks.OPEN, "ward-5")) == ["check-1", "check-2", "check-3"]
        assert [unit.id for unit in reader.units()] == ["ward-6", "ward-5"]
    with store.write() as tx:
        for check in ("check-1", "check-3"):
            tx.lock_check(check)
        tx.append(Abandoned(reason="patient left", text=""), act=build.act(), check="check-1")
        tx.append(Started(), act=build.act(), check="check-3")
        tx.append(build.open_event(), act=build.act(), check="check-3")
    with store.read() as reader:
        assert ids(reader.checks_that(OfChecks.OPEN, "ward-5")) == ["check-2"]


def test_of_several_codes_alike_the_one_that_expires_last_counts(ward: Store) -> None:
    """Six signs come round again after some years."""
    with ward.write() as tx:
        tx.add_check(build.check(id="check-2", opened_at=later(60)))
        tx.add_code(JoinCode(digest="same", check="check-2", expires_at=later(70)))
        tx.add_code(JoinCode(digest="same", check="check-1", expires_at=later(10)))
    with ward.read() as reader:
        assert reader.find_code("same") == JoinCode(digest="same", check="check-2", expires_at=later(70))


def test_the_version_in_force_is_the_last_of_those_whose_time_has_come(store: Store) -> None:
    """The third was to come at 20 min; the fourth, approved after it for 15 min, stays."""
    with store.write() as tx:
        for number, minutes in ((1, 0), (2, 10), (3, 20), (4, 15), (5, 30)):
            tx.publish(build.site_data(version=str(number), in_force_from=later(minutes), number=number))
        tx.publish(build.site_data(what="library", version="9"))
    with store.read() as reader:
        asked = (-1, 0, 9, 10, 14, 15, 20, 29, 30)
        versions = [reader.published(at=later(minutes)).get("packs") for minutes in asked]
        assert [each and each.version for each in versions] == [None, "1", "1", "2", "2", "4", "4", "4", "5"]
        second = build.site_data(version="2", in_force_from=later(10), number=2)
        assert reader.site_data_version("packs", "2") == second


def test_editions_are_told_apart(ward: Store) -> None:
    with ward.write() as tx:
        build.add_signed_record(tx)
        tx.add_pdf(build.pdf())
        tx.add_frozen(build.frozen(edition=2, document=b"{}", digest="of edition 2"))
    with ward.read() as reader:
        assert [each.edition for each in reader.frozen_records("check-1")] == [1, 2]
        assert reader.pdf_editions("check-1") == (1,)
        assert reader.find_pdf("check-1", 2) is None


def test_a_look_is_recorded_outside_the_log(ward: Store) -> None:
    with ward.write() as tx:
        tx.add_access(Access(at=NOW, person="amari", session="s", check="check-1", what="record"))
        tx.add_access(Access(at=NOW, person="amari", session="s", check="", what="list"))
        assert tx.head() == 0
        rows = tx._connection.execute(tables.access.select()).all()  # noqa: SLF001  # nothing reads it yet
    assert [(row.position, row.check) for row in rows] == [(1, "check-1"), (2, "")]


def test_looks_at_an_infusion_are_read_in_order(ward: Store) -> None:
    looks = [
        Access(at=later(minute), person=person, session="s", check="check-1", what="record")
        for minute, person in ((2, "birk"), (1, "amari"))
    ]
    with ward.write() as tx:
        for look in looks:
            tx.add_access(look)
        tx.add_access(Access(at=NOW, person="amari", session="s", check="", what="list"))
    with ward.read() as reader:
        assert reader.accesses_of_infusion("infusion-1") == (looks[1], looks[0])
        assert reader.accesses_of_infusion("x") == ()


def _runs_without(ward: Store, unit: str = "ward-5") -> list[str]:
    with ward.read() as reader:
        return [each.id for each in reader.infusions_that(OfInfusions.UNCHECKED, unit)]


@pytest.fixture
def unchecked(ward: Store) -> Store:
    """An infusion was started without a check; a check of it is open, and both have joined."""
    with ward.write() as tx:
        build.add_joined_check(tx, id="late")
        event = StartedWithoutCheck(reason="nobody free", started_at="22:10")
        tx.append(event, act=build.act(), infusion="infusion of late")
    return ward


def test_what_runs_without_a_check_is_listed_until_one_is_cleared(unchecked: Store) -> None:
    alone = ["infusion of late"]
    assert _runs_without(unchecked) == alone
    assert _runs_without(unchecked, "ward-6") == []
    with unchecked.write() as tx:
        build.add_signed_record(tx, check="check-1")
    # Cleared is another infusion's check.
    assert _runs_without(unchecked) == alone
    with unchecked.write() as tx:
        build.add_signed_record(tx, check="late")
        signed = Signed(edition=1, slot=2, digest="digest", meaning="as agreed")
        tx.append(signed, act=build.act(), check="late")
    assert _runs_without(unchecked) == []


def test_or_until_its_end_is_recorded(unchecked: Store) -> None:
    for why, listed in (("line-or-site", 1), ("end-of-therapy", 0)):
        with unchecked.write() as tx:
            tx.append(
                DeviceStopped(stopped_at="", why=why, totals=""), act=build.act(), infusion="infusion of late"
            )
        assert len(_runs_without(unchecked)) == listed


def test_times_keep_their_microseconds(ward: Store) -> None:
    moment = NOW + timedelta(microseconds=1)
    with ward.write() as tx:
        tx.add_reading(build.reading(handed_in_at=moment))
    with ward.read() as reader:
        assert reader.readings("check-1")[0].handed_in_at == moment
        assert reader.readings("check-1")[0].handed_in_at.utcoffset() == timedelta(0)


def test_a_time_without_a_zone_is_never_stored(ward: Store) -> None:
    with pytest.raises(Exception, match="aware"), ward.write() as tx:
        tx.add_reading(build.reading(handed_in_at=NOW.replace(tzinfo=None)))


def test_no_column_holds_a_binary_fraction() -> None:
    """Values are kept as typed and as canonical text; the only numbers are counts; times have their type."""
    columns = [column for table in tables.metadata.tables.values() for column in table.columns]
    kinds = {type(column.type).__name__ for column in columns}
    assert kinds == {"Text", "Integer", "BigInteger", "Boolean", "LargeBinary", "UtcTime", "Reference"}
    assert UtcTime.__name__ in kinds


@pytest.mark.parametrize("some", [1, 2, 3])
def test_a_table_is_read_whole_however_much_of_it_at_a_time(
    store: Store, monkeypatch: pytest.MonkeyPatch, some: int
) -> None:
    build.fill(store)
    with store.write() as tx:
        for number in range(1, 5):
            tx.rename_unit("ward-5", f"The ward, named for the {number}. time", later(number))
        tx.add_unit(Unit(id="ward-6", name="Another ward"))
        tx.rename_unit("ward-6", "A ward with a name of two parts in its key", later(9))
    with store.read() as reader:
        whole = {table: list(reader.rows(table)) for table in tables.metadata.tables}
        monkeypatch.setattr(read_whole, "_SOME", some)
        for table, rows in whole.items():
            assert list(reader.rows(table)) == rows, table
        named = whole["unit_renamed"]
        assert list(reader.rows("unit_renamed", unit="ward-5")) == named[:-1]
    assert [each["unit"] for each in named] == ["ward-5"] * (len(named) - 1) + ["ward-6"]
    assert len(named) >= 5
