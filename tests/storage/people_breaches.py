# ruff: noqa: ANN401  # a row holds values of every kind
"""Rows of what stands about people that the database must refuse, and the name under which it does."""

from typing import Any

from tests.storage import builders as build
from tests.storage import people_builders as people
from tests.storage.key_breaches import Breach, row_of


def _training(**given: Any) -> Breach:
    return Breach(table="training", row=row_of(people.training(**{"id": "t", **given}), "training"))


def _withdrawal(**given: Any) -> Breach:
    return Breach(table="training_withdrawal", row=row_of(people.withdrawal(**given), "training_withdrawal"))


def _acceptance(*before: tuple[str, dict[str, Any]], **given: Any) -> Breach:
    made = people.acceptance(**{"digest": "another", **given})
    return Breach(table="acceptance", row=row_of(made, "acceptance"), before=before)


def _refused(**given: Any) -> Breach:
    made = people.refused_signings(**{"id": "r", **given})
    return Breach(table="refused_signings", row=row_of(made, "refused_signings"))


def _told(**given: Any) -> Breach:
    return Breach(
        table="refused_signings_told", row=row_of(people.refused_told(**given), "refused_signings_told")
    )


_OF_BIRK = ("session", row_of(build.session("birk", digest="of birk"), "session"))
_BY_DIGITS = ("session", row_of(build.session(digest="by digits", method="pin"), "session"))

PEOPLE_BREACHES: dict[str, Breach] = {
    "training_id_unique": _training(id="training-1"),
    "training_of_known_person": _training(person="nobody"),
    "nobody_records_their_own_training": _training(recorded_by="amari"),
    "one_withdrawal_a_training": _withdrawal(),
    "withdrawal_of_known_training": _withdrawal(training="none"),
    "accepted_once": _acceptance(digest="digest of a statement"),
    # A colleague's sign-in.
    "accepted_with_one_s_own_secret": _acceptance(_OF_BIRK, session="of birk"),
    "refused_signings_id_unique": _refused(id="refused-1"),
    "refused_signings_of_known_person": _refused(person="nobody"),
    "told_once_of_refused_signings": _told(),
    "told_of_known_refused_signings": _told(refused="none"),
    "refused_signings_told_to_known_person": _told(person="nobody"),
    "one_competency_file_an_edition": Breach(
        table="competency_file", row=row_of(people.competency_file(), "competency_file")
    ),
}
MORE_PEOPLE_BREACHES: tuple[tuple[str, Breach], ...] = (
    ("accepted_with_one_s_own_secret", _acceptance(session="none")),
    ("accepted_with_one_s_own_secret", _acceptance(_BY_DIGITS, session="by digits")),
    ("accepted_with_one_s_own_secret", _acceptance(device="another screen")),
    ("accepted_with_one_s_own_secret", _acceptance(signed_in_at=build.later(1))),
)
ALLOWED_OF_PEOPLE: tuple[tuple[str, Breach], ...] = (
    ("training_is_recorded_by_somebody_else", _training(recorded_by="operator")),
    ("statement_is_accepted_in_one_s_own_sign_in", _acceptance(_OF_BIRK, person="birk", session="of birk")),
)
