"""A person is called otherwise from now on; what was printed before stands, and holds."""

from datetime import timedelta

from app.auditing.invariants import check_invariants
from app.auditing.verifying_store import Wanted, verify_store
from app.records.state import Phase
from app.records.store_verification import Failing
from app.workflow.accounts import Changed, NoSuchPerson, NotWrittenSo, SameName, find_account, rename_person
from app.workflow.key_ceremony import usable_key
from app.workflow.refusals import Incomplete, KeyNotConfirmed
from tests.story.people import ADELE, NADIA, TOMAS
from tests.story.ward import Ward

NEW = "Nadia Ferrow-Lind"


def renamed(
    ward: Ward, name: str, *, is_another: bool = False
) -> Changed | NoSuchPerson | SameName | NotWrittenSo | Incomplete:
    return rename_person(
        ward.site, ward.wait().now, by=ADELE.id, person=NADIA.id, printed_name=name, is_another=is_another
    )


def failing(ward: Ward) -> set[str]:
    steps = verify_store(ward.site, ward.now + timedelta(minutes=1), Wanted(pages=False))
    assert not hasattr(steps, "why")
    return {each.about for each in steps if isinstance(each, Failing)}


def test_a_record_of_before_keeps_its_name_and_holds(ward: Ward) -> None:
    ward.at_stage(Phase.CLEARED)
    done = renamed(ward, f" {NEW} ")

    assert isinstance(done, Changed)
    account = find_account(ward.site, NADIA.id)
    assert account is not None
    assert account.printed_name == NEW
    with ward.site.store.read() as reader:
        (kept,) = reader.frozen_records(ward.check)
    assert kept.told["clinicians"][0]["printed_name"] == NADIA.printed_name
    assert check_invariants(ward.site, ward.now) == ()
    assert failing(ward) == set()


def test_nobody_signs_by_a_name_that_no_colleague_confirmed(one_ward: Ward) -> None:
    done = renamed(one_ward, NEW)

    assert isinstance(done, Changed)
    assert done.code
    with one_ward.site.store.read() as reader:
        person = reader.find_person(NADIA.id)
        assert person is not None
        assert isinstance(usable_key(reader, one_ward.site, person), KeyNotConfirmed)


def test_the_same_name_changes_nothing_and_anothers_must_be_said_to_be(one_ward: Ward) -> None:
    with one_ward.site.store.read() as reader:
        before = reader.head()
    assert renamed(one_ward, NADIA.printed_name) == Changed()
    assert renamed(one_ward, "  ") == Incomplete(fields=("printed_name",))
    assert isinstance(renamed(one_ward, "Nadia\x1b[2J Ferrow"), NotWrittenSo)
    assert isinstance(renamed(one_ward, TOMAS.printed_name.upper()), SameName)
    with one_ward.site.store.read() as reader:
        assert reader.head() == before
    assert isinstance(renamed(one_ward, TOMAS.printed_name, is_another=True), Changed)
    nobody = rename_person(one_ward.site, one_ward.now, by=ADELE.id, person="nobody", printed_name=NEW)
    assert nobody == NoSuchPerson()
