"""Canonical bytes, sealed content, the site's policy."""

import hashlib
import json
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from app.config import root
from app.records.canonical import canonical, digest
from app.records.policy import NO_FACTOR, Accountability, OrderRule, RefusedRule, TrainingRule, policy_from
from app.records.sealed import (
    draft_content,
    draft_context,
    drug_context,
    opened,
    reading_content,
    reading_context,
)
from app.records.site_events import InstallationFounded
from tests.factories.answers import answers

# The sample documents of RFC 8785's own test data ("weird", "arrays", "french"; input typed from memory) and
# the SHA-256 of the outputs published beside them.
SAMPLES = (
    (
        {
            "€": "Euro Sign",
            "\r": "Carriage Return",
            "\n": "Newline",
            "1": "One",
            "\u0080": "Control\u007f",
            "\U0001f602": "Smiley",
            "ö": "Latin Small Letter O With Diaeresis",
            "\ufb33": "Hebrew Letter Dalet With Dagesh",
            "</script>": "Browser Challenge",
        },
        "6af595a9aa80110b964b4de3f82a05fa6ae7423005019bacfa2620dddc4e94d1",
    ),
    (
        [56, {"d": True, "10": None, "1": []}],
        "099601b171cafed97c333f8878d68e7f8c8f795412adb34b2fdcf0e7c7beac42",
    ),
    (
        {
            "peach": "This sorting order",
            "péché": "is wrong according to French",
            "pêche": "but canonicalization MUST",
            "sin": "ignore locale",
        },
        "d99d0ebdcb0033cb858cfa830ae46bc0fb3309413b271f1da828c89901a27ed5",
    ),
)


@pytest.mark.parametrize(("document", "wanted"), SAMPLES)
def test_canonical_bytes_are_those_of_the_standard(document: object, wanted: str) -> None:
    assert digest(canonical(document)) == wanted


@pytest.mark.parametrize("refused", [float("nan"), 2**53])
def test_what_cannot_be_written_exactly_is_refused(refused: object) -> None:
    with pytest.raises(ValueError, match=r"."):
        canonical({"a": refused})


def test_the_digest_is_sha_256() -> None:
    # FIPS 180-4 example: SHA-256 of "abc".
    assert digest(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert digest(b"") == hashlib.sha256().hexdigest()


def test_a_sealed_reading_is_read_back_with_its_salt() -> None:
    content = opened(reading_content(salt="salt", answers=answers()))

    assert (content.salt, content.answers) == ("salt", answers())


def test_the_salt_is_part_of_what_is_committed_to() -> None:
    one, other = (digest(reading_content(salt=salt, answers=answers())) for salt in ("a", "b"))

    assert one != other


def test_a_draft_is_bound_to_other_names_than_a_reading() -> None:
    about = ("check-1", "sources", 1, "nadia")

    assert draft_context(*about) == ("draft", "check-1", "sources", "1", "nadia")
    assert reading_context(*about) == ("reading", "check-1", "sources", "1", "nadia")


def test_the_published_policy_is_read() -> None:
    policy = policy_from(json.loads((root() / "seed_data" / "policy.json").read_text(encoding="utf-8")))

    assert policy.clearance == timedelta(minutes=15)
    assert (policy.join_code_life, policy.idle) == (timedelta(minutes=10), timedelta(minutes=5))
    assert policy.check_due == timedelta(minutes=30)
    assert policy.paper_check_due == timedelta(minutes=120)
    assert policy.passes_on == timedelta(hours=12)
    assert (policy.adult_age, policy.zone) == (18, "Europe/Dublin")
    assert policy.baseline.may_start_at == ("0", "1")
    assert policy.baseline.levels[0] == ("0", "0: awake")
    assert policy.engine["smallest_volume_step"] == "0.01 mL"


SEEDED = json.loads((root() / "seed_data" / "policy.json").read_text(encoding="utf-8"))


def test_what_a_site_has_not_said_is_not_asked_for() -> None:
    policy = policy_from(SEEDED)

    assert (policy.training, policy.accountability, policy.refused_signings) == (None, None, None)
    assert (policy.login_unused, policy.asks_of(["nurse"])) == (None, NO_FACTOR)


def test_what_a_site_asks_of_people_is_read() -> None:
    asked = {
        "training": {"topics": ["pca"], "days": 365},
        "accountability": {"version": "a-1", "text": ["I answer for what I sign."]},
        "refused_signings": {"count": 3, "within_minutes": 60},
        "login_unused_days": 90,
        "orders": {"count_for_hours": 5, "patient_system": "urn:example:wristband"},
    }
    policy = policy_from({**SEEDED, **asked})

    assert policy.training == TrainingRule(topics=("pca",), counts_for=timedelta(days=365))
    assert policy.refused_signings == RefusedRule(count=3, within=timedelta(minutes=60))
    assert policy.login_unused == timedelta(days=90)
    assert policy.orders == OrderRule(
        counts_for=timedelta(hours=5),
        most_in_a_minute=120,
        patient_system="urn:example:wristband",
        ahead=timedelta(minutes=5),
    )
    assert policy.accountability == Accountability(version="a-1", text=("I answer for what I sign.",))


def test_a_statement_is_another_by_its_version_and_by_its_text() -> None:
    said = Accountability(version="a-1", text=("I answer for what I sign.",))
    others = (replace(said, version="a-2"), replace(said, text=(*said.text, "Always.")))

    assert len({said.digest, *(each.digest for each in others)}) == 3
    assert said.digest == replace(said).digest


def test_of_several_roles_the_most_is_asked_beside_the_secret() -> None:
    asked = {"second_factor": {"nurse": "code-or-passkey", "pharmacist": "passkey"}}
    policy = policy_from({**SEEDED, **asked})

    assert policy.asks_of(["nurse"]) == "code-or-passkey"
    assert policy.asks_of(["nurse", "pharmacist"]) == "passkey"
    assert policy.asks_of(["quality"]) == NO_FACTOR
    assert policy.asks_of([]) == NO_FACTOR


def test_a_policy_that_lacks_something_is_not_read() -> None:
    with pytest.raises(KeyError):
        policy_from({"baseline": {}})


def test_a_sealed_draft_says_also_which_window_kept_what() -> None:
    content = opened(draft_content(salt="salt", answers=answers(), kept={"order": 2}))

    assert (content.salt, content.answers, content.kept) == ("salt", answers(), {"order": 2})
    assert opened(reading_content(salt="salt", answers=answers())).kept == {}


def test_a_scale_is_read_to_the_division_that_the_site_says() -> None:
    policy = policy_from(SEEDED)

    assert replace(policy, account={"scale_division": "0.5 mL"}).scale_division == "0.5 mL"
    assert replace(policy, account={}).scale_division == "1 mL"


def test_what_was_read_of_drug_that_is_taken_back_opens_as_nothing_else() -> None:
    beside = (draft_context("c", "drug", 1, "p"), reading_context("c", "drug", 1, "p"))
    assert drug_context("i", "c", 1, "p") not in beside
    assert drug_context("i", "c", 1, "p") != drug_context("i", "c", 1, "q")


def test_what_was_filled_for_training_and_every_copy_is_for_training() -> None:
    def founded(**told: Any) -> bool:  # noqa: ANN401  # a field of the event
        return InstallationFounded(installation="i", attestation="a", **told).is_for_training

    assert not founded()
    assert founded(training=True)
    assert founded(copy_of="another")
