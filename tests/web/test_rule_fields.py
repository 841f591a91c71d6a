"""The fields of a document come from its schema, and what was typed is a document again."""

import json
from typing import Any

import pytest

from app.config import root
from app.records.rules import LIBRARY, PACKS, POLICY, STEPS
from app.web.forms.rule_fields import changed_by, field_at, fields_of, parts_of
from app.workflow.rule_faults import schema_of
from app.workflow.rule_files import FILES


def document(what: str) -> dict[str, Any]:
    path = root() / "seed_data" / FILES[what]
    content: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return content


PARTS = [
    (what, part) for what in (POLICY, LIBRARY, PACKS) for part in parts_of(document(what), schema_of(what))
]


@pytest.mark.parametrize(("what", "part"), PARTS)
def test_what_is_sent_as_it_was_shown_changes_nothing(what: str, part: str) -> None:
    content, schema = document(what), schema_of(what)
    place = parts_of(content, schema)[part]
    sent = {each.name: each.value for each in fields_of(content, schema, place)}
    made, _ = changed_by(content, schema, place, sent)
    assert sent
    assert len(sent) < 250
    assert made == content


def test_of_the_steps_each_is_a_part_and_so_are_the_names_of_their_groups() -> None:
    steps = document(STEPS)
    found = parts_of(steps, schema_of(STEPS))
    assert found.pop("groups") == ("groups",)
    assert found == {f"step.{each['id']}": ("steps", at) for at, each in enumerate(steps["steps"])}


def test_one_value_is_changed_one_is_left_out_and_one_is_added() -> None:
    content, schema = document(LIBRARY), schema_of(LIBRARY)
    place = parts_of(content, schema)["morphine"]
    sent = {each.name: each.value for each in fields_of(content, schema, place)}
    limits = content["drugs"]["morphine"]["limits"]
    first, added = "drugs.morphine.limits.0", f"drugs.morphine.limits.{len(limits)}"
    strength = "drugs.morphine.concentrations"
    changed = {f"{first}.hard_high": "4 mg", f"{first}.soft_low": "", f"{added}.field": "lockout"}
    gone = {name: "" for name in sent if name.startswith(f"{strength}.0")}
    made, places = changed_by(content, schema, place, {**sent, **changed, **gone})

    morphine = made["drugs"]["morphine"]
    assert morphine["limits"][0]["hard_high"] == "4 mg"
    assert "soft_low" not in morphine["limits"][0]
    assert morphine["limits"][-1] == {"field": "lockout"}
    assert [each["is"] for each in morphine["concentrations"]] == ["5 mg/mL"]
    # What moved up is still beside its own field.
    assert field_at(places, "drugs.morphine.concentrations.0.is") == f"{strength}.1.is"
    assert field_at(places, "drugs.morphine.limits.0") == f"{first}.field"
    assert field_at(places, "format") == ""


def test_what_is_no_whole_number_stays_as_it_was_typed() -> None:
    content, schema = document(POLICY), schema_of(POLICY)
    made, _ = changed_by(content, schema, (), {"clearance_minutes": "soon", "also_read": "a\n\n b "})
    assert made["clearance_minutes"] == "soon"
    assert made["also_read"] == ["a", "b"]
    assert made["engine"] == content["engine"]
