"""The papers for the time when the program is down, from the rules in force: no patient's value is on them.

Two sheets, each filled in without sight of the other and then laid side by side, and what both do together.
The bytes follow from unit and rules alone, so that whoever holds a copy can tell whether it is still right.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from app.comparison.wording import capitalised
from app.config import root
from app.records.document import CAUTIONS
from app.records.kinds import NURSES, SET_UP
from app.records.rules import LIBRARY, PACKS, POLICY, STEPS, Rules
from app.records.steps import BASELINE, OF_A_REPLACEMENT, OF_CHANGES, PRIMED_VOLUME, TAKEN_BACK, Step
from app.reports.page import environment, style_sheet
from app.reports.paper_sheet import paper_sheet
from app.reports.times import day
from app.words.downtime import NO_BLIND_CHECK, ONE_UNIT, drug_limits, hand_check, line_sets, unit_asks
from app.words.names import FOR_TRAINING, INVENTED_RULES, PLANS, SOURCES, VERSIONS
from app.words.reading import SEEN_AT

_IN_DIGEST = 16
_OF_RECORD = {STEPS: "safety_steps"}


@dataclass(frozen=True, kw_only=True)
class StepOnPaper:
    """One step, and when it is asked at all."""

    group: int
    do: str
    only: str
    writes: str


def render_forms(rules: Rules, unit: str, *, training: bool = False) -> bytes:
    """The PDF; `unit` is the unit's name. `training`: the installation is for that."""
    return _rendered(forms_page(rules, unit, training=training), style_sheet(), downtime_style())


# Of more units than ask for them within an hour.
@lru_cache(maxsize=16)
def _rendered(page: str, *sheets: str) -> bytes:
    # Loading the renderer takes half a second, which nobody who asks for another page should wait for.
    from app.reports.pdf import make_pdf  # noqa: PLC0415

    return make_pdf(page, *sheets)


def downtime_style() -> str:
    """The style sheet (CSS) of these papers, beside that of all."""
    return (root() / "templates" / "reports" / "downtime.css").read_text(encoding="utf-8")


def never_for_a_patient(*, invented: bool, training: bool) -> tuple[str, ...]:
    """What stands in the head of papers that are for no patient."""
    said = ((INVENTED_RULES, invented), (FOR_TRAINING, training))
    return tuple(words for words, is_so in said if is_so)


def forms_page(rules: Rules, unit: str, *, training: bool = False) -> str:
    """The page (HTML) that the PDF is made from."""
    return (
        environment()
        .get_template("downtime.html")
        .render(
            unit=unit,
            site=rules.policy.site,
            never=never_for_a_patient(invented=rules.are_invented, training=training),
            rules=rules_words(rules),
            made_at=max(each.in_force_from for each in rules.published.values()).isoformat(),
            cautions=CAUTIONS,
            no_blind_check=NO_BLIND_CHECK,
            nurses=NURSES,
            sources=SOURCES,
            seen_at=SEEN_AT,
            sheet=paper_sheet(rules),
            sums=hand_check(rules.policy.engine),
            one_unit=ONE_UNIT,
            drugs=drug_limits(rules),
            asks=unit_asks(rules),
            line_sets=line_sets(rules),
            baseline=rules.policy.baseline,
            levels=dict(rules.policy.baseline.levels),
            steps=_steps(rules),
        )
    )


def rules_words(rules: Rules) -> str:
    """By which rules: each version, its digest as far as a person compares it, and since when it counts."""
    zone = ZoneInfo(rules.policy.zone)
    told = []
    for what in (POLICY, LIBRARY, PACKS, STEPS):
        each = rules.published[what]
        groups = [each.digest[place : place + 4] for place in range(0, _IN_DIGEST, 4)]
        since = day(each.in_force_from.astimezone(zone))
        told.append(f"{VERSIONS[_OF_RECORD.get(what, what)]} {each.version} ({' '.join(groups)}) of {since}")
    return "; ".join(told)


_WRITES: Mapping[str, str] = {
    BASELINE: "sedation, respiratory rate, SpO2",
    PRIMED_VOLUME: "mL",
    TAKEN_BACK: "mL, lot, who saw it",
}


def _steps(rules: Rules) -> tuple[StepOnPaper, ...]:
    """The steps of every plan, in the site's order; those of one alone say so."""
    plans: dict[str, Any] = {name: rules.plan(name) for name in SET_UP.plans}
    of_plan = {name: {step.id for step in plan.steps} for name, plan in plans.items()}
    order = [each["id"] for each in rules.content(STEPS)["steps"]]
    of_steps = (step for plan in plans.values() for step in plan.steps)
    known = {step.id: step for step in of_steps if step.only_if not in OF_CHANGES}
    return tuple(
        StepOnPaper(
            group=known[name].group,
            do=known[name].do,
            only=_only(known[name], tuple(plan for plan, ids in of_plan.items() if name in ids)),
            writes=_WRITES.get(known[name].entry, ""),
        )
        for name in order
        if name in known
    )


def _only(step: Step, plans: tuple[str, ...]) -> str:
    """When a step is asked, where it is not always."""
    parts = [PLANS[plans[0]]] if len(plans) == 1 else []
    if step.only_if in OF_A_REPLACEMENT:
        parts.append("if a syringe was replaced")
    elif step.only_if:
        parts.append("if a check was given up here")
    return capitalised(", ".join(parts))
