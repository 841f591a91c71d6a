"""Records told as stories: real readings, the real engine, the real fold, the real document. All invented."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

from app.judging.judge import Against, Read, judge
from app.judging.rounds import priming_judged
from app.records import events
from app.records.canonical import canonical, digest
from app.records.document import Names, build_document
from app.records.followup import Found
from app.records.formats import COMPARISON, READ
from app.records.kept import FIRST, PRIMING, SECOND, SOURCES, KeptComparison
from app.records.kinds import SET_UP
from app.records.known import NOTHING_KNOWN
from app.records.reading import WHOLE, Answers, latest
from app.records.state import CheckState
from app.records.steps import BASELINE
from app.reports.record import RecordSignature, render_record
from tests.factories.answers import answers, changed
from tests.factories.seeded import seeded
from tests.story.events import NADIA, RUTH, TOMAS, Story, the_plan

ZONE = ZoneInfo("Europe/Dublin")
NAMES = Names(
    unit="Ward 4 East",
    people={NADIA: "Nadia Ferrow", TOMAS: "Tomas Osmund", RUTH: "Ruth Calloway"},
    staff_numbers={NADIA: "DM-2001", TOMAS: "DM-2002", RUTH: "DM-2101"},
)


class Told(Story):
    """A check whose readings are kept and compared by the engine."""

    def __init__(self, *, plan: str = "with-carrier", names: Names = NAMES, site: str = "") -> None:
        super().__init__(plan=the_plan(plan))
        self.names = names
        self.site = site or seeded("policy")["site"]
        self.kept: list[KeptComparison] = []
        self._latest: dict[int, Answers] = {FIRST: {}, SECOND: {}}
        self._volume = "2.3 mL"

    def begun(self) -> "Told":
        """Both have joined."""
        self.opened().joined()
        return self

    def read(self, first: Answers, second: Answers | None = None, *, device: str = "") -> "Told":
        """Both hand in the current round, and the engine compares it."""
        both = {FIRST: first, SECOND: first if second is None else second}
        scope = self.state().rounds[-1].scope
        for slot, given in both.items():
            self.handed_in(slot, device=device)
            self._latest[slot] = latest([(WHOLE, self._latest[slot]), (scope, given)])
        findings = self._compare()
        self.compared(*findings)
        return self

    def _compare(self) -> tuple[Found, ...]:
        state = self.state()
        hand_ins = state.rounds[-1].handed_in
        first, second = self._latest[FIRST], self._latest[SECOND]
        judged = judge(
            SET_UP,
            Read(answers=first, at=hand_ins[FIRST].at.astimezone(ZONE)),
            Read(answers=second, at=hand_ins[SECOND].at.astimezone(ZONE)),
            known=NOTHING_KNOWN,
            rules=Against(
                policy={**seeded("policy")["engine"], **self._set_in_use(first)},
                library=seeded("library")["drugs"],
            ),
        )
        self._keep(
            SOURCES,
            state.rounds[-1].number,
            {
                "case": judged.case,
                "answers": {"A": first, "B": second},
                "versions": {"policy": "policy-1"},
            },
            {
                "verdict": judged.verdict.value,
                "engine": judged.engine,
                "not_judged": list(judged.not_judged),
                "findings": [each.as_data() for each in judged.findings],
                "math": judged.math,
                "delivery": judged.delivery,
                "plan": judged.plan,
            },
        )
        return judged.findings

    def _set_in_use(self, given: Answers) -> dict[str, str]:
        pack = next(each for each in seeded("packs")["packs"] if each["key"] == given["device"]["pack"])
        return {name: pack[name] for name in ("prime_volume", "dead_volume")}

    def _keep(
        self, subject: str, number: int, case: Mapping[str, object], result: Mapping[str, object]
    ) -> None:
        self.kept.append(
            KeptComparison(
                check="check-1",
                subject=subject,
                round=number,
                at=self.now,
                engine="0.1.0",
                case=canonical({"format": READ.newest, **case}),
                result=canonical({"format": COMPARISON.newest, **result}),
            )
        )

    def found_now(self, code: str) -> Found:
        """The finding of that code in the current round."""
        return next(each for each in self.state().findings if each.code == code)

    def answered(self, code: str, *, reason: str, named: str = "", text: str = "") -> "Told":
        """Both acknowledge every caution of that code."""
        for found in self.state().findings:
            if found.code == code:
                for slot, who in ((FIRST, NADIA), (SECOND, TOMAS)):
                    event = events.CautionAcknowledged(
                        slot=slot, finding=found.key, reason=reason, named=named, text=text
                    )
                    self.tell(event, by=who)
        return self

    def granted(self, code: str, *, reason: str, prescriber: str = "") -> "Told":
        """Ruth takes the request for help and sets the rule aside."""
        found = self.found_now(code)
        self.asked_for_help().help_taken()
        event = events.ExceptionGranted(
            finding=found.key, code=found.code, field=found.field, reason=reason, prescriber=prescriber
        )
        self.tell(event, by=RUTH).help_settled("other")
        return self

    def primed_as(self, volume: str) -> "Told":
        """The volume that is read at the next priming."""
        self._volume = volume
        return self

    def primed(self, *, within: bool = True) -> "Told":
        """The first reads the primed volume, and the engine judges it."""
        against = next(each for each in reversed(self.kept) if each.subject == SOURCES)
        number = self._priming_round
        _, case, result = priming_judged(self._volume, by=FIRST, reading=number, against=against)
        assert json.loads(result)["within"] is within
        self._keep(PRIMING, number, json.loads(case), json.loads(result))
        super().primed(within=within)
        return self

    def finished(self) -> "Told":
        """Every safety step is confirmed."""
        self.steps_confirmed()
        return self

    def document(
        self, *, earlier_looks: frozenset[str] = frozenset(), with_name: bool = True
    ) -> dict[str, Any]:
        """The canonical record, once through its bytes."""
        made = build_document(
            self._complete(),
            edition=1,
            comparisons=self.kept,
            names=self.names,
            versions={
                "engine": "0.1.0",
                "policy": "policy-1",
                "library": "library-2",
                "packs": "packs-1",
                "safety_steps": "steps-1",
            },
            line_sets={each["key"]: each["words"] for each in seeded("packs")["packs"]},
            site=self.site,
            zone=ZONE.key,
            invented=True,
            earlier_looks=earlier_looks,
            with_name=with_name,
        )
        read: dict[str, Any] = json.loads(canonical(made))
        return read

    def _complete(self) -> CheckState:
        state = self.state()
        assert state.steps_complete
        assert not state.open_stops
        return state


def signed(document: dict[str, Any]) -> tuple[RecordSignature, ...]:
    """Both signatures, some minutes after the last step."""
    at = datetime(2031, 5, 2, 13, 4, 7, tzinfo=UTC)
    return tuple(
        RecordSignature(
            letter=each["letter"],
            printed_name=each["printed_name"],
            person=each["person"],
            signed_at=at + timedelta(seconds=41 * place),
            meaning=SET_UP.meaning,
        )
        for place, each in enumerate(document["clinicians"])
    )


def digest_of(document: dict[str, Any]) -> str:
    """The digest that is signed."""
    return digest(canonical(document))


def clean() -> dict[str, Any]:
    """Both read the same at once."""
    half = answers(label={"amount": "3 mg", "volume": "15 mL"})
    return Told().begun().read(half).finished().document()


FIVEFOLD_LABEL = {"amount": "30 mg"}


def fivefold() -> dict[str, Any]:
    """A lockout misread by one; then a syringe five times stronger than ordered, replaced; then agreement."""
    strong = answers(label=FIVEFOLD_LABEL)
    told = Told().begun().read(strong, changed(strong, device={"lockout": "6 min"}))
    told.next_reading(scope=(("device", ("lockout",)),))
    told.read(strong)
    told.next_reading("label")
    half = {"lot": "LOT-9", "amount": "3 mg", "volume": "15 mL"}
    return told.read(answers(label=half)).finished().document()


def read_again() -> dict[str, Any]:
    """One misread the demand dose on the device and not the use-by date; both read those fields again."""
    told = Told().begun()
    told.read(answers(), answers(device={"demand_dose": "2 mg"}, label={"use_by": None}))
    told.next_reading(scope=(("label", ("use_by",)), ("device", ("demand_dose", "lockout", "mode"))))
    return told.read(answers()).finished().document()


def cautions() -> dict[str, Any]:
    """A continuous part above the usual, an allergy that is not recorded, and sedatives charted."""
    both = {"mode": "demand-and-continuous", "continuous_rate": "0.1 mg/h"}
    told = Told().begun()
    chart = {"sedatives": "charted", "opioid_tolerant": "yes", "allergy": "not-recorded"}
    told.read(answers(order=both, device=both, chart=chart))
    told.answered("allergy-not-recorded", reason="prescriber-asked", named="Dr Brandt")
    told.answered("patient-at-risk", reason="stopped", text="Last dose yesterday evening, patient awake.")
    told.answered("above-soft-limit", reason="ordered-so")
    told.answered("limit-is-passed", reason="watched-closely")
    return told.finished().document()


def exception() -> dict[str, Any]:
    """A demand dose above the site's hard limit, allowed for this one patient by the charge nurse."""
    high = {"demand_dose": "0.8 mg", "limit_amount": "8 mg"}
    told = Told().begun().read(answers(order=high, device=high, chart={"opioid_tolerant": "yes"}))
    told.granted("above-hard-limit", reason="Long-term opioid treatment at home", prescriber="Dr Brandt")
    told.answered("above-soft-limit", reason="ordered-so")
    return told.finished().document()


def voided() -> dict[str, Any]:
    """Somebody saw danger in the first round and said so; then on one device; a priming out of tolerance."""
    told = Told().begun()
    told.handed_in(FIRST)
    told.voided()
    told.read(answers(), device="bedside-7")
    told.primed_as("1.2 mL").primed(within=False)
    return told.primed_as("2.4 mL").finished().document(earlier_looks=frozenset({TOMAS}))


def stopped() -> dict[str, Any]:
    """Outside the protocol at first; then the device was stopped for the patient, and once at another bed."""
    told = Told().begun().read(answers())
    told.observed(below=True)
    told.finished().stopped("23 presses, 4 mg", why="sedation-or-breathing")
    told.observed().confirmed(FIRST, BASELINE).confirmed(SECOND, BASELINE)
    told.stopped(why="line-or-site").misplaced()
    return told.document()


def dedicated() -> dict[str, Any]:
    """A line of its own, without a carrier, and an order that states no concentration."""
    alone = {"carrier_fluid": "none", "carrier_rate": None}
    told = Told(plan="dedicated-line").begun()
    told.read(
        answers(
            order={**alone, "strength": "states-none", "amount": None, "volume": None},
            device={**alone, "pack": "set-150-own"},
        )
    )
    told.answered("concentration-unordered", reason="usual-here")
    return told.primed_as("2.4 mL").finished().document()


def long_texts() -> dict[str, Any]:
    """Names and reasons as long as people write them."""
    names = Names(
        unit="Interdisciplinary Recovery and High-Dependency Unit, North Wing, Third Floor",
        people={
            NADIA: "Wilhelmina Ottoline Featherstonehaugh-Cholmondeley de la Rochefoucauld",
            TOMAS: "Bartłomiej Świętosław Grzegżółkiewicz-Brzęczyszczykiewicz",
            RUTH: "Ruth Calloway",
        },
        staff_numbers={NADIA: "DM-2001-INVENTED-LONG-NUMBER", TOMAS: "DM-2002", RUTH: "DM-2101"},
    )
    told = Told(
        names=names, site="The Larkmoor and Saint Withburga Foundation General Hospital Group (invented)"
    )
    told.begun().read(
        answers(
            label={"identifier": "*4444", "lot": "LOT-" + "0123456789ABCDEF" * 4},
            wristband={"identifier": "INVENTED-" + "4" * 40},
            order={"identifier": "INVENTED-" + "4" * 40},
            chart={"other_opioids": "charted"},
        )
    )
    told.answered(
        "patient-at-risk",
        reason="prescriber-asked",
        named="Dr Maximiliane Konstanze Brandt-Hohenegger, on call for pain",
        text="The patch was taken off at six in the morning; watched every quarter of an hour. " * 3,
    )
    return told.finished().document()


STORIES = {
    "clean": clean,
    "fivefold": fivefold,
    "read-again": read_again,
    "cautions": cautions,
    "exception": exception,
    "voided": voided,
    "dedicated": dedicated,
    "stopped": stopped,
    "long-texts": long_texts,
}


@cache
def printed(name: str) -> bytes:
    """A story's PDF, made once for all who look at it."""
    document = STORIES[name]()
    return render_record(document, digest=digest_of(document), signatures=signed(document))
