"""The canonical record of a check, from what is stored of it."""

from app.records.document import Names, build_document
from app.records.rules import STEPS
from app.site.loading import Loaded, unit_name
from app.storage import Reader


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
