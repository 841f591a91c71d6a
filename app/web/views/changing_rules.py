"""A part of a document of the site's rules as a form: what is typed is compared before it is proposed."""

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from flask import Blueprint, abort, render_template, request
from flask.typing import ResponseReturnValue

from app.people import Asked, Permission
from app.records.rules import POLICY
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms import rule_parts
from app.web.forms.rule_fields import RuleField, field_at
from app.web.models import rules as models
from app.web.views.rules import LARGEST_DOCUMENT, compared_page, known
from app.words.rules import DOCUMENTS
from app.workflow import rules_seen
from app.workflow.looking import unit_names
from app.workflow.rule_faults import has_shape, schema_of
from app.workflow.rule_files import FILES, RuleFault, RulesWrong, read_document

views = Blueprint("changing_rules", __name__)

# The part of a policy that is by unit.
UNITS = "units"
# The part of a protocol that names units.
RECOVERY = "recovery"
# Fields of the page that are no values of the document.
_OF_THE_PAGE = frozenset({"csrf_token", "version", "content", "take_out"})


@views.get("/rules/<what>/change/<part>")
@allowed(Permission.PROPOSE_RULES, asked=Asked.SESSION)
def page(what: str, part: str) -> ResponseReturnValue:
    """The values of a part of the document in force, to be changed."""
    return _page(what, part, _in_force(known(what)))


@views.post("/rules/<what>/more")
@allowed(Permission.PROPOSE_RULES, asked=Asked.SESSION, file_of=LARGEST_DOCUMENT)
def more(what: str) -> ResponseReturnValue:
    """The same of what was changed and is not proposed yet."""
    content = _sent(known(what))
    return _page(what, request.form.get("part", ""), content, carried=True)


@views.post("/rules/<what>/change/<part>")
@allowed(Permission.PROPOSE_RULES, asked=Asked.SESSION, file_of=LARGEST_DOCUMENT)
def change(what: str, part: str) -> ResponseReturnValue:
    """What was typed beside what it would follow; nothing is proposed yet."""
    carried = bool(request.form.get("content"))
    content = _sent(known(what)) if carried else _in_force(what)
    whole, schema = _with_units(what, part, content), schema_of(what)
    if part not in rule_parts.all_parts(what, whole, schema):
        abort(404)
    version = request.form.get("version", "").strip()
    if request.form.get("take_out") and rule_parts.can_be_taken_out(part, whole, schema):
        changed = rule_parts.PartChanged(content=rule_parts.without(part, whole, schema))
    else:
        changed = rule_parts.part_changed(part, whole, schema, _given())
    document = {**changed.content, "version": version}
    compared = rules_seen.compare_document(site(), asking.now(), what, document, since=None)
    faults = list(changed.faults.items())
    if isinstance(compared.why_not, RulesWrong) and not faults:
        places = {**changed.places, "version": "version"}
        found = ((field_at(places, _place_of(each)), each) for each in compared.why_not.faults)
        faults = [(name, each.why if name else f"{each.path}: {each.why}") for name, each in found]
    if faults:
        typed = {**_given(), "version": version}
        return _page(what, part, content, typed=typed, faults=faults, carried=carried), 422
    return compared_page(what, document, compared)


def _place_of(fault: RuleFault) -> str:
    """Where it stands, or would stand, if it is missing."""
    missing = re.fullmatch(r"'(\w+)' is missing", fault.why)
    return f"{fault.path}.{missing[1]}" if missing else fault.path


def _given() -> dict[str, str]:
    """What was typed, by field; of several that were chosen each is a line."""
    return {name: "\n".join(request.form.getlist(name)) for name in request.form if name not in _OF_THE_PAGE}


def _in_force(what: str) -> Mapping[str, Any]:
    seen = rules_seen.see_document(site(), asking.now(), what)
    return seen.in_force.content if seen.in_force else abort(404)


def _sent(what: str) -> Mapping[str, Any]:
    """The document that came with the form; whoever sends anything else had no page of ours."""
    content = read_document(request.form.get("content", "").encode(), FILES[what])
    if not isinstance(content, dict) or not has_shape(what, content):
        abort(400)
    return content


def _with_units(what: str, part: str, content: Mapping[str, Any]) -> Mapping[str, Any]:
    """What a unit has otherwise may be changed for each unit."""
    if (what, part) != (POLICY, UNITS):
        return content
    return {**content, UNITS: {**{each: {} for each in unit_names(site())}, **content.get(UNITS, {})}}


def _of_units(field: RuleField) -> RuleField:
    """Units are chosen from those that there are."""
    return replace(field, choices=unit_names(site()), several=True) if field.name == RECOVERY else field


def _page(  # of what, and what was typed
    what: str,
    part: str,
    content: Mapping[str, Any],
    *,
    typed: Mapping[str, str] | None = None,
    faults: list[tuple[str, str]] | None = None,
    carried: bool = False,
) -> str:
    seen = rules_seen.see_document(site(), asking.now(), what)
    whole, schema = _with_units(what, part, content), schema_of(what)
    if seen.in_force is None or part not in rule_parts.all_parts(what, whole, schema):
        abort(404)
    fields = tuple(map(_of_units, rule_parts.part_fields(part, whole, schema, typed)))
    standing = {each.name: each.value for each in rule_parts.part_fields(part, whole, schema)}
    called = {"version": "Version", **{each.name: each.called for each in fields}}
    beside = {name: why for name, why in faults or () if name in called}
    return render_template(
        "changing_rules/page.html",
        what=what,
        part=part,
        title=DOCUMENTS[what],
        part_words=models.part_words(part),
        about=models.about_part(part),
        groups=models.fields_by_group(fields, standing, beside),
        version=(typed or {}).get("version")
        or (content["version"] if carried else models.next_version(seen)),
        seen=seen,
        agrees=models.who_agrees(what),
        taken_out=rule_parts.can_be_taken_out(part, whole, schema),
        faults_of_form=[
            (name if name in called else "", called.get(name, ""), why) for name, why in faults or ()
        ],
        beside=beside,
        content=models.written(content) if carried else "",
    )
