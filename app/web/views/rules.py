"""The documents of the site's rules: what is in force, what is proposed, and what two people decide."""

import json
from collections.abc import Mapping
from typing import Any

from flask import Blueprint, Response, abort, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from app.people import LOOKS_AT_RULES, Asked, Permission, may
from app.records.canonical import canonical
from app.web import asking
from app.web.access import allowed
from app.web.asking import site
from app.web.forms.rules import ProposeForm, RefuseForm
from app.web.models import rules as models
from app.words.rules import ABOUT, DOCUMENTS
from app.workflow import proposing, rules_seen
from app.workflow.refusals import Incomplete, NotAllowed
from app.workflow.replaying import Replayed
from app.workflow.replaying_apart import AnotherRuns, TookTooLong, Trial, replay_apart
from app.workflow.rule_faults import schema_of
from app.workflow.rule_files import FILES, RuleFault, RulesWrong, read_document

views = Blueprint("rules", __name__)

# No file of rules comes near it, and what is sent as a form is three times as long.
LARGEST_DOCUMENT = 512 * 1024
_DECIDES = (Permission.PROPOSE_RULES, Permission.APPROVE_RULES)


@views.get("/rules")
@allowed(*LOOKS_AT_RULES, asked=Asked.SESSION)
def page() -> ResponseReturnValue:
    """Every document: the version in force, and what waits."""
    documents = rules_seen.see_documents(site(), asking.now())
    return render_template(
        "rules/documents.html",
        documents=documents,
        words=DOCUMENTS,
        about=ABOUT,
        came_by=models.came_by,
    )


@views.get("/rules/<what>")
@allowed(*LOOKS_AT_RULES, asked=Asked.SESSION)
def document_page(what: str) -> ResponseReturnValue:
    """One document: its values, its versions, and ways to change it."""
    return _document_page(known(what))


@views.get("/rules/<what>/schema.json")
@allowed(*LOOKS_AT_RULES, asked=Asked.SESSION)
def schema(what: str) -> ResponseReturnValue:
    """The JSON Schema that a file of it follows."""
    return _file(json.dumps(schema_of(known(what)), indent=2).encode(), f"{what}.schema.json")


@views.get("/rules/<what>/versions/<version>.json")
@allowed(*LOOKS_AT_RULES, asked=Asked.SESSION)
def version_file(what: str, version: str) -> ResponseReturnValue:
    """A version as a file, in force or not."""
    found = rules_seen.find_version(site(), known(what), version)
    if found is None:
        abort(404)
    return _file(_indented(json.loads(found.content)), f"{version}.json")


@views.post("/rules/<what>/compare")
@allowed(Permission.PROPOSE_RULES, asked=Asked.SESSION, file_of=LARGEST_DOCUMENT)
def compare(what: str) -> ResponseReturnValue:
    """A file that somebody brings, or a proposal that waits, beside what it would follow."""
    given = request.files.get("file")
    text = given.read() if given else b""
    text = text or request.form.get("content", "").encode()
    if not text:
        fault = RuleFault(file="", path="", why="Choose the file.")
        return _document_page(known(what), faults=(fault,)), 422
    content = read_document(text, FILES[known(what)])
    if isinstance(content, RuleFault):
        return _document_page(what, faults=(content,)), 422
    compared = rules_seen.compare_document(site(), asking.now(), what, content, since=None)
    if isinstance(compared.why_not, RulesWrong):
        return _document_page(what, faults=compared.why_not.faults), 422
    return compared_page(what, content, compared)


@views.post("/rules/<what>/replay")
@allowed(Permission.PROPOSE_RULES, asked=Asked.SESSION, file_of=LARGEST_DOCUMENT)
def replay_draft(what: str) -> ResponseReturnValue:
    """Try what is not proposed yet on the checks of the last months."""
    form = ProposeForm(request.form)
    content = _sent(known(what), form)
    compared = rules_seen.compare_document(site(), asking.now(), what, content, since=None)
    if compared.why_not is not None:
        return compared_page(what, content, compared, form=form)
    tried = _replay(what, content, compared)
    return compared_page(what, content, compared, form=form, tried=tried)


@views.post("/rules/<what>/propose")
@allowed(Permission.PROPOSE_RULES, file_of=LARGEST_DOCUMENT)
def propose(what: str) -> ResponseReturnValue:
    """Propose it; it waits for another person."""
    form = ProposeForm(request.form)
    content = _sent(known(what), form)
    form.validate()
    since, was_changed = form.in_force_from(asking.zone()), False
    if not form.errors:
        draft = proposing.Draft(
            what=what,
            content=content,
            why=form.text("why"),
            in_force_from=since,
            against=form.text("against"),
        )
        match proposing.propose_rules(site(), asking.act(), asking.person().roles, draft):
            case proposing.Proposed(proposal=proposal):
                return redirect(url_for("rules.proposal_page", proposal=proposal), 303)
            case proposing.FromThePast():
                since = None
                form.refuse("from_day", "Nothing comes into force before now: write a later time, or none.")
            case NotAllowed():
                return abort(403)
            case proposing.ComparedWithAnother():
                was_changed = True
            case Incomplete() | proposing.NothingNew() | RulesWrong():
                # The page says so: it is compared again below.
                pass
    compared = rules_seen.compare_document(site(), asking.now(), what, content, since=since)
    return compared_page(what, content, compared, form=form, was_changed=was_changed), 422


@views.get("/rules/proposals/<proposal>")
@allowed(*LOOKS_AT_RULES, asked=Asked.SESSION)
def proposal_page(proposal: str) -> ResponseReturnValue:
    """A proposal beside what it would follow."""
    return _proposal_page(proposal)


@views.post("/rules/proposals/<proposal>/replay")
@allowed(*_DECIDES, asked=Asked.SESSION)
def replay_proposal(proposal: str) -> ResponseReturnValue:
    """Try a proposal on the checks of the last months."""
    seen, compared = _found(proposal)
    content = json.loads(seen.proposal.content)
    return _proposal_page(proposal, tried=_replay(seen.proposal.what, content, compared))


@views.post("/rules/proposals/<proposal>/approve")
@allowed(*_DECIDES)
def approve(proposal: str) -> ResponseReturnValue:
    """Bring it into force from its time on."""
    told = request.form.getlist("over")
    match proposing.approve_proposal(site(), asking.act(), asking.person().roles, proposal, over=told):
        case proposing.Approved() | proposing.AlreadyDecided():
            # What is asked again has been done, or somebody was faster: the page says which.
            return redirect(url_for("rules.proposal_page", proposal=proposal), 303)
        case proposing.ComparedWithAnother() | RulesWrong() | proposing.TakesPlaceOf():
            return _proposal_page(proposal), 409
        case proposing.OnePerson() | NotAllowed():
            return abort(403)
        case proposing.NoSuchProposal():
            return abort(404)


@views.post("/rules/proposals/<proposal>/refuse")
@allowed(*_DECIDES)
def refuse(proposal: str) -> ResponseReturnValue:
    """Say no to it, with a reason."""
    form = RefuseForm(request.form)
    if not form.validate():
        return _proposal_page(proposal, form=form), 422
    done = proposing.refuse_proposal(
        site(), asking.act(), asking.person().roles, proposal, why=form.text("no")
    )
    match done:
        case proposing.Refused() | proposing.AlreadyDecided():
            return redirect(url_for("rules.proposal_page", proposal=proposal), 303)
        case Incomplete():
            form.refuse("no", "Say why.")
            return _proposal_page(proposal, form=form), 422
        case proposing.OnePerson() | NotAllowed():
            return abort(403)
        case proposing.NoSuchProposal():
            return abort(404)


@views.post("/rules/proposals/<proposal>/withdraw")
@allowed(Permission.PROPOSE_RULES)
def withdraw(proposal: str) -> ResponseReturnValue:
    """Take one's own proposal back."""
    match proposing.withdraw_proposal(site(), asking.act(), proposal):
        case proposing.Withdrawn() | proposing.AlreadyDecided():
            return redirect(url_for("rules.proposal_page", proposal=proposal), 303)
        case proposing.NotTheProposer():
            return abort(403)
        case proposing.NoSuchProposal():
            return abort(404)


def known(what: str) -> str:
    """The document that an address names."""
    if what not in DOCUMENTS:
        abort(404)
    return what


def _file(content: bytes, name: str) -> Response:
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, content_type="application/json", headers=headers)


def _indented(content: Mapping[str, Any]) -> bytes:
    return json.dumps(content, indent=2, ensure_ascii=False).encode()


def _sent(what: str, form: ProposeForm) -> Mapping[str, Any]:
    """The document that came with the form; whoever sends anything else had no page of ours."""
    content = read_document(form.text("content").encode(), FILES[what])
    if not isinstance(content, dict):
        abort(400)
    return content


def _replay(what: str, content: Mapping[str, Any], compared: rules_seen.Compared) -> object:
    trial = Trial(what=what, content=content, since=compared.since)
    match replay_apart(site(), asking.act(), asking.person().roles, trial):
        case Replayed() as found:
            return {"found": found, "rules": models.rules_tried(found), "says": ""}
        case AnotherRuns():
            return {"found": None, "says": "Another trial runs now. Try again in a minute."}
        case TookTooLong():
            return {
                "found": None,
                "says": "The trial took too long, and nothing came of it. Try again later.",
            }


def _document_page(what: str, *, faults: tuple[RuleFault, ...] = ()) -> str:
    seen = rules_seen.see_document(site(), asking.now(), what)
    parts = models.parts_shown(what, seen.in_force.content) if seen.in_force else ()
    return render_template(
        "rules/document.html",
        seen=seen,
        title=DOCUMENTS[what],
        agrees=models.who_agrees(what),
        came_by=models.came_by,
        heads=models.rows_by_head(rules_seen.rows_in_force(site(), asking.now(), what)),
        parts=parts,
        may_propose=may(asking.person().roles, Permission.PROPOSE_RULES),
        faults_of_file=faults,
    )


def compared_page(
    what: str,
    content: Mapping[str, Any],
    compared: rules_seen.Compared,
    *,
    form: ProposeForm | None = None,
    tried: object = None,
    was_changed: bool = False,
) -> str:
    """A document that somebody may propose, beside what it would follow."""
    form = form or ProposeForm()
    form["content"].data = canonical(content).decode()
    form["against"].data = compared.against
    return render_template(
        "rules/compared.html",
        what=what,
        title=DOCUMENTS[what],
        version=content["version"],
        is_invented="invented" in content,
        compared=compared,
        form=form,
        tried=tried,
        was_changed=was_changed,
        waits_for=models.waits_for(what),
        parts=models.parts_shown(what, content),
    )


def _found(proposal: str) -> tuple[rules_seen.ProposalSeen, rules_seen.Compared]:
    found = rules_seen.see_proposal(site(), asking.now(), proposal)
    if found is None:
        abort(404)
    return found


def _proposal_page(proposal: str, *, form: RefuseForm | None = None, tried: object = None) -> str:
    seen, compared = _found(proposal)
    what = seen.proposal.what
    content = json.loads(seen.proposal.content)
    is_own = seen.proposal.proposed_by == asking.person().id
    return render_template(
        "rules/proposal.html",
        seen=seen,
        compared=compared,
        title=DOCUMENTS[what],
        is_invented="invented" in content,
        content=seen.proposal.content.decode(),
        is_own=is_own,
        may_decide=models.may_approve(asking.person(), seen),
        may_try=any(may(asking.person().roles, each) for each in _DECIDES),
        waits_for=models.waits_for(what),
        form=form or RefuseForm(),
        tried=tried,
    )
