# ruff: noqa: ANN401  # a row holds values of every kind
"""Flat rows that the database must refuse, and the name under which it does."""

from typing import Any

from tests.storage import builders as build
from tests.storage import row_builders as flat
from tests.storage.key_breaches import Breach, row_of

SECOND_CHECK = ("check", row_of(build.check(id="check-2"), "check"))


def _review(**given: Any) -> Breach:
    made = flat.reviewed(**{"position": 2, **given})
    return Breach(table="finding_review", row=row_of(made, "finding_review"))


def _classified(**given: Any) -> Breach:
    made = flat.classified(**{"place": 2, "person": "dara", **given})
    return Breach(table="finding_classified", row=row_of(made, "finding_classified"))


# The stage is `fill`: a check that has ended, with one finding.
ROW_BREACHES: dict[str, Breach] = {
    "one_review_a_position": _review(position=1),
    "review_of_known_check": _review(check="none"),
    "review_by_known_person": _review(person="nobody"),
    "assigned_to_known_person": _review(assigned_to="nobody"),
    "one_classification_a_place": _classified(place=1, person="dara"),
    "classified_by_two_people": _classified(person="gita"),
    "classification_of_known_check": _classified(check="none"),
    "classified_by_known_person": _classified(person="nobody"),
    "first_or_second_classification": _classified(place=3),
    "category_of_the_index": _classified(category="J"),
    "readers_by_letter": _classified(readers="BA"),
    "classified_by_a_third_person": _classified(person="amari"),
    "one_finding_a_place": Breach(table="finding", row=row_of(flat.finding(), "finding")),
    "finding_of_known_comparison": Breach(table="finding", row=row_of(flat.finding(round=2), "finding")),
    "one_end_a_check": Breach(table="ended_check", row=row_of(flat.ended(), "ended_check")),
    "end_of_known_check": Breach(table="ended_check", row=row_of(flat.ended(check="none"), "ended_check")),
    "reached_once": Breach(table="finding_reached", row=row_of(flat.reached(), "finding_reached")),
    "reached_by_a_settled_finding": Breach(
        table="finding_reached", row=row_of(flat.reached(number=2), "finding_reached")
    ),
    "settled_once": Breach(table="finding_settled", row=row_of(flat.settled(), "finding_settled")),
    "settled_is_a_known_finding": Breach(
        table="finding_settled", row=row_of(flat.settled(number=2), "finding_settled")
    ),
    "settled_once_its_check_has_ended": Breach(
        table="finding_settled",
        row=row_of(flat.settled(check="check-2"), "finding_settled"),
        before=(
            SECOND_CHECK,
            *(
                ("participant", row_of(build.participant(slot, check="check-2"), "participant"))
                for slot in (1, 2)
            ),
            *(("reading", row_of(build.reading(slot, check="check-2"), "reading")) for slot in (1, 2)),
            ("comparison", row_of(build.comparison(check="check-2"), "comparison")),
            ("finding", row_of(flat.finding(check="check-2"), "finding")),
        ),
    ),
}

# Whoever took their request for help is no third person either.
MORE_ROW_BREACHES = (("classified_by_a_third_person", _classified(person="femi")),)

# Whoever neither read there nor helped, though another did.
ALLOWED_ROWS = (("classifier_is_a_third_person", _classified()),)
