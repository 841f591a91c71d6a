"""Freeze the canonical record when the last safety step is confirmed."""

from app.base import Act
from app.records import events
from app.records.canonical import canonical, digest
from app.records.document import Names, build_document
from app.records.kept import FrozenRecord
from app.records.state import Phase
from app.storage import Reader, Transaction
from app.workflow.loading import Loaded, load_check, unit_name
from app.workflow.published import STEPS


def freeze_if_complete(tx: Transaction, act: Act, check_id: str) -> bool:
    """Freeze the record if every step is verified and none is frozen; part of the confirming transaction."""
    loaded = load_check(tx, tx.lock_check(check_id), act.now)
    state = loaded.state
    if state.phase is not Phase.STEPS or not state.steps_complete:
        return False
    edition = max((each.edition for each in tx.frozen_records(check_id)), default=0) + 1
    document = canonical(document_of(tx, loaded, edition))
    tx.add_frozen(
        FrozenRecord(check=check_id, edition=edition, at=act.now, document=document, digest=digest(document))
    )
    tx.append(
        events.RecordFrozen(edition=edition, digest=digest(document)),
        act=act,
        check=check_id,
        infusion=state.check.infusion,
    )
    return True


def document_of(reader: Reader, loaded: Loaded, edition: int) -> dict[str, object]:
    """The record of a check as it stands in `loaded`; made again later it has the same bytes."""
    check = loaded.state.check
    concerned = {
        *loaded.state.people.values(),
        *(each.taken_by for each in loaded.state.help),
        *(each.by for each in loaded.state.exemptions),
    }
    people = reader.people_with(concerned)
    names = Names(
        unit=unit_name(reader, check.unit),
        people={who: person.printed_name for who, person in people.items()},
        staff_numbers={who: person.staff_number for who, person in people.items()},
    )
    return build_document(
        loaded.state,
        edition=edition,
        comparisons=loaded.comparisons,
        names=names,
        versions={
            "policy": loaded.policy.version,
            "library": loaded.library["version"],
            "packs": loaded.packs["version"],
            "safety_steps": loaded.rules.content(STEPS)["version"],
        },
        site=loaded.policy.site,
        zone=loaded.policy.zone,
        earlier_looks=frozenset(
            each.person
            for each in reader.accesses_of_infusion(check.infusion)
            if each.check != check.id and each.at <= loaded.state.now
        ),
    )
