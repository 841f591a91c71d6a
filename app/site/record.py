"""The canonical record of a check, from what is stored of it."""

from collections.abc import Collection, Iterable, Iterator
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from app.judging.account import balanced, find_case
from app.records.as_it_stands import as_it_stands
from app.records.document import AS_IT_STANDS, CAUTIONS, Names, build_document
from app.records.export_events import Exported, export_look
from app.records.kept import Access
from app.records.names import NamesInLog
from app.records.on_paper import paper_look
from app.records.policy import PRINTED
from app.records.rules import OBSERVATIONS, STEPS
from app.records.state import CheckState
from app.site.loading import Loaded, account_at_the_end, course_so_far, rules_in_force, unit_name
from app.storage import Reader


def document_of(
    reader: Reader, loaded: Loaded, edition: int, *, names: Names, cautions: Iterable[str] = CAUTIONS
) -> dict[str, object]:
    """The record of a check as it stands in `loaded`; made again later it has the same bytes.

    `names` are those of that moment, and `cautions` the sentences that it was made with: no fact of a check.
    """
    return build_document(
        loaded.state,
        edition=edition,
        comparisons=loaded.comparisons,
        names=names,
        versions={
            "policy": loaded.policy.version,
            "library": loaded.library["version"],
            "packs": loaded.packs["version"],
            "observations": loaded.rules.content(OBSERVATIONS)["version"],
            **({"safety_steps": loaded.rules.content(STEPS)["version"]} if loaded.state.kind.plans else {}),
        },
        line_sets={each["key"]: each["words"] for each in loaded.packs["packs"]},
        site=loaded.policy.site,
        zone=loaded.policy.zone,
        invented=loaded.rules.are_invented,
        earlier_looks=frozenset(
            each.person for each in earlier_looks(reader, loaded) if each.at <= loaded.state.now
        ),
        with_name=loaded.policy.name_on_record == PRINTED,
        account=_closed_account(reader, loaded) if loaded.state.kind.ends else None,
        stands=_as_it_stands(reader, loaded, names) if is_handed_over(loaded.state) else None,
        cautions=cautions,
    )


def _as_it_stands(reader: Reader, loaded: Loaded, names: Names) -> dict[str, Any]:
    state = loaded.state
    to = "" if state.kind.responsible is None else state.people[state.kind.responsible]
    log = course_so_far(reader, loaded)
    return as_it_stands(state.check.infusion, log, to=to, names=names, now=state.now)


def is_handed_over(state: CheckState) -> bool:
    """Whether the record says how the infusion stands, and whoever wrote that down."""
    return AS_IT_STANDS in state.kind.sections


def _closed_account(reader: Reader, loaded: Loaded) -> dict[str, Any] | None:
    """What the account comes to once both have signed; None where it has none, or none that holds."""
    account = account_at_the_end(reader, loaded)
    entries, policy = account.written(), loaded.policy.account
    if find_case(entries, policy) is None:
        return None
    return {
        "syringes": {name: {"drug": account.drugs[name], "lot": lot} for name, lot in account.lots.items()},
        "entries": [dict(each) for each in entries],
        "policy": dict(policy),
        "result": balanced(entries, policy),
    }


def earlier_looks(reader: Reader, loaded: Loaded) -> list[Access]:
    """Looks at values of the infusion: at another check of it, on sheets of paper, or in an export."""
    state, infusion = loaded.state, loaded.infusion
    looks = [each for each in reader.accesses_of_infusion(infusion.infusion) if each.check != state.check.id]
    if infusion.transcriptions:
        looks += reader.looks_of_people(state.people.values(), paper_look(infusion.infusion))
    return [*looks, *_looks_at_exports(reader, state)]


def _looks_at_exports(reader: Reader, state: CheckState) -> Iterator[Access]:
    """Looks of its two at exports that name people and have another check of the infusion."""
    asked = reader.exports_asked_by(state.people.values())
    exports = [(each, each.event) for each in asked if isinstance(each.event, Exported)]
    identified = [(each, export) for each, export in exports if not export.deidentified]
    if not identified:
        return
    ends = _ends_of_others(reader, state)
    for each, export in identified:
        zone = ZoneInfo(rules_in_force(reader, each.at).policy.zone)
        if any(at <= each.at and export.has(at, zone) for at in ends):
            yield from reader.looks_of_people([each.by], export_look(export.export))


def _ends_of_others(reader: Reader, state: CheckState) -> list[datetime]:
    """When the other checks of its infusion ended."""
    checks = (each.id for each in reader.checks_of_infusion(state.check.infusion))
    entries = (told for each in checks if each != state.check.id for told in reader.entries(each))
    return [each.at for each in entries if each.event.ends_a_check]


def names_now(reader: Reader, unit: str, people: Collection[str]) -> Names:
    """What a unit and people are called now."""
    found = reader.people_with(people)
    return Names(
        unit=unit_name(reader, unit),
        people={who: person.printed_name for who, person in found.items()},
        staff_numbers={who: person.staff_number for who, person in found.items()},
    )


def names_at(reader: Reader, unit: str, people: Collection[str], *, log: NamesInLog, position: int) -> Names:
    """What they were called at a position of the log; the name of whom it says nothing never changed."""
    now = names_now(reader, unit, people)
    said = {who: named for who in people if (named := log.find_person(who, position))}
    unit_said = log.find_unit(unit, position)
    return Names(
        unit=unit_said.name if unit_said else now.unit,
        people={**now.people, **{who: named.printed_name for who, named in said.items()}},
        staff_numbers={**now.staff_numbers, **{who: named.staff_number for who, named in said.items()}},
    )


def concerned(loaded: Loaded) -> set[str]:
    """Whoever has a name in the record."""
    state = loaded.state
    return {
        *((each.by for each in loaded.entries) if is_handed_over(state) else ()),
        *state.people.values(),
        *state.helpers,
        *(each.by for each in state.exemptions),
        *(each.opened_by for each in state.rounds),
        *(each.by for each in state.stop_notes),
        *(each.by for each in state.baselines),
        *(who for each in state.taken_back for who in (each.by, each.witness)),
    }
