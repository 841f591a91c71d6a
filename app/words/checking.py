"""The words of the pages from the comparison on: what was found, what follows, how it was settled."""

from collections.abc import Sequence

from app.comparison.wording import SLIPS
from app.records.kept_orders import OrderOnRecord
from app.records.kind import Kind
from app.records.outcomes import Outcome, Then, read_after
from app.records.state import PUT_RIGHT_MEANWHILE, Phase
from app.words.names import OUTCOMES, WHYS, listed
from app.words.screens import source_words

CODES: dict[str, str] = {
    "reading-missing": "Not read",
    "readings-differ": "Readings differ",
    "order-differs-from-record": "Another order on record",
    "orders-unclear": "Orders unclear",
    "label-differs": "Label is not the order",
    "device-differs": "Device is not the order",
    "patient-differs": "Patient differs",
    "runs-elsewhere": "PCA runs already for this patient",
    "bed-still-runs": "Another infusion runs at this bed",
    "mode-conflict": "Mode and rate do not fit",
    "concentration-inconsistent": "Two concentrations side by side",
    "limit-below-dose": "Limit below one demand",
    "limit-below-continuous": "Limit below the continuous part",
    "limit-blocks-demands": "Limit leaves no demand",
    "above-hard-limit": "Above the drug library's hard limit",
    "below-hard-limit": "Below the drug library's hard limit",
    "above-soft-limit": "Above the drug library's soft limit",
    "below-soft-limit": "Below the drug library's soft limit",
    "drug-not-in-library": "Drug not in the drug library",
    "concentration-not-in-library": "Concentration not in the drug library",
    "concentration-unordered": "No concentration ordered",
    "limit-required": "No limit set",
    "strength-for-tolerant-only": "Strength for tolerant patients only",
    "continuous-in-patient-at-risk": "Continuous part, patient at risk",
    "continuous-opioid-naive": "Continuous part, not opioid-tolerant",
    "carrier-not-allowed": "Carrier is refused",
    "carrier-not-listed": "Carrier not listed",
    "carrier-rate-differs": "Carrier rate differs",
    "monitoring-off": "Monitoring is off",
    "alarm-outside-bounds": "Alarm outside its bounds",
    "alarm-not-set": "Alarm not set",
    "label-expired": "Label is past its use-by",
    "expires-soon": "Label expires soon",
    "syringe-size-differs": "Another syringe size is set",
    "label-over-barrel": "More on the label than the barrel holds",
    "primed-volume-differs": "Primed volumes differ",
    "primed-volume-below-set": "Less primed than the line holds",
    "primed-volume-above-set": "More primed than the line holds",
    "volume-differs": "Another volume, same strength",
    "dose-below-step": "Dose falls between the device's steps",
    "syringe-short": "Syringe soon empty",
    "limit-is-passed": "More than the limit can be given",
    "notation-differs": "Written in different ways",
    "order-not-current": "Order is not current",
    "order-not-verified": "Order is not reviewed by a pharmacist",
    "verified-as-urgent-exception": "Urgent, not yet reviewed",
    "allergy-charted": "Allergy is charted",
    "allergy-not-recorded": "Allergies are not recorded",
    "intolerance-reviewed": "Intolerance is charted",
    "neuraxial-opioid-running": "Epidural or spinal opioid runs",
    "patient-at-risk": "Patient at risk",
    "risk-read-differently": "Risks read differently",
    "cannot-use-button": "Patient cannot use the button",
    # Of what was issued.
    "issued-elsewhere": "Issued for another infusion",
    "issued-unsealed": "Its seal was broken when it was issued",
    "issued-otherwise": "Not the syringe that was issued",
    "issued-volume-differs": "Issued with another volume",
    "issued-out": "A syringe that was issued is not accounted for",
    # Of what is loaded again.
    "part-used-not-of-this": "No part-used syringe of this infusion",
    "part-used-too-long": "Part-used, and in use for too long",
    "another-syringe": "Another syringe than was put on",
    "ran-unread": "What ran has no account",
    "part-used-volume-differs": "Part-used, and not as it was left",
    # Of the account.
    "account-not-computed": "No account can be made",
    "account-time-disorder": "Times not in order",
    "account-reading-missing": "Totals or volume left not read",
    "account-strength-set-differs": "Strength set is not the syringe's",
    "account-totals-went-back": "A total went back",
    "account-totals-not-attributed": "Totals belong to no one syringe",
    "account-presses-below-doses": "Fewer presses than doses",
    "account-doses-above-possible": "More doses than the device can give",
    "account-totals-above-possible": "More given than the device can give",
    "account-totals-above-predicted": "More given than the doses come to",
    "account-left-rose": "More left than before",
    "account-left-below-predicted": "Less left than predicted",
    "account-left-above-predicted": "More left than predicted",
    "account-more-than-left": "More gone than was left",
    "account-unexplained": "Not explained",
    "account-not-witnessed": "Not witnessed",
    "account-not-received": "Not signed for",
    "account-totals-below-predicted": "Less given than the doses come to",
    "account-doses-below-boluses": "Fewer doses than boluses",
    "account-presses-far-above-doses": "Presses far above doses",
    "account-in-hand": "A syringe is in hand",
    "account-ask-pharmacy": "Ask pharmacy for the next syringe",
    "account-series-not-from-zero": "Totals did not begin at zero",
    "not-in-force": "Not as it was last checked",
    "changed-since": "Changed since it was last checked",
    "outside-protocol": "Outside the protocol",
    "line-not-as-it-should-be": "Line or site is not as it should be",
    "button-not-the-patients": "The button is not the patient's alone",
    "doses-while-sedated": "Doses given to a sedated patient",
}

# What nobody looked at: the site has set nothing for it, or the check does not read it.
NOT_JUDGED: dict[str, str] = {
    "chart": "what the chart says",
    "library": "drug, strength and doses against a drug library",
    "alarm-bounds": "where the alarms are set",
    "line-set": "the primed volume against what the line set holds",
    "age": "a high age",
    "weight": "a low weight",
}

# What the cautions that are answered together are about.
_GROUPS: dict[str, str] = {
    "patient": "The patient",
    "dose": "The doses",
    "limit": "The limit",
    "supply": "The syringe and its line",
}


def group_words(group: str) -> str:
    """What the cautions of a group are about."""
    return _GROUPS[group]


ABANDON_REASONS: dict[str, str] = {
    "order-withdrawn": "The order was withdrawn or changed",
    "patient-moved": "The patient has moved",
    "device-fault": "The device has a fault",
    "supply-fault": "The syringe or the line set has a fault",
    "time": "No time for it now",
    "left": "The two cannot go on with it",
    "opened-in-error": "It was opened in error",
    "other": "Something else",
    "exercise-over": "The exercise is over",
    "had-to-start": "The infusion had to start without it",
    "escalation": "Ended by the person who helped",
}

SETTLED: dict[str, str] = {
    "put right": "Put right, read again and agreed",
    "read again": "Read again and agreed",
    "acknowledged": "Acknowledged by both",
    "exception": "Set aside by an exception",
    "for information": "For information",
    "not settled": "Not settled",
}

# What became of a check, in the list of findings.
BECAME: dict[str, str] = {
    Phase.STARTED: "signed by both, and started",
    Phase.DONE: "signed by both",
    Phase.LED: "led to another check",
    Phase.ABANDONED: "ended before it was signed",
}

# What was done at the bedside when a source was put right.
PUT_RIGHT: dict[str, str] = {
    "wristband": "Wristband replaced",
    "chart": "Chart put right",
    "order": "Order rewritten",
    "label": "Syringe replaced",
    "device": "Device reprogrammed",
    "monitor": "Monitor put right",
}


# The button once that other infusion was looked after.
SETTLED_THERE = "It was stopped, and that is written down"
# What is done about a syringe that is not put right in a change of what runs.
ANOTHER_DRUG = (
    "Another drug never follows through this line. Load the drug that is ordered; or end this infusion, and "
    "open a new one for the other drug, with a new set."
)
ANOTHER_STRENGTH = (
    "Another strength than the order states. Load the strength that is ordered; or have the order rewritten, "
    "end this check, stop the infusion, and set it up with a new set."
)
ANOTHER_SYRINGE = "The syringe is not changed in this check: end it, and open a syringe change."
# What is done about an infusion that runs already.
_SETTLE_THERE = (
    "Look there at patient, wristband and device. Where it was stopped, write the stop down, then press "
    "again; where it runs, only one may go on: end this check, or ask for help."
)


def not_signed_words(where: str) -> str:
    """The second signature was refused, for what runs already."""
    return f"Not signed. {where} {_SETTLE_THERE}"


def not_started_words(where: str) -> str:
    """The start was refused, for what runs already."""
    return f"DO NOT START; if it runs, stop it now. {where} {_SETTLE_THERE}"


def code_words(code: str) -> str:
    """What a finding is called in a list."""
    return CODES.get(code, code.replace("-", " "))


def not_judged_words(names: Sequence[str]) -> str:
    """What nobody looked at, in one line; blank where nothing was left out."""
    return f"Not judged here: {listed([NOT_JUDGED[each] for each in names])}." if names else ""


def on_record_words(order: OrderOnRecord, came: str) -> str:
    """The order of another system that was compared, and when it came, as a page or a paper writes times."""
    return f"Compared also with the order on record: {order.words}, received {came}."


def slip_words(slip: str) -> str:
    """A slip, only ever as *consistent with*; blank for none."""
    return f"Consistent with {SLIPS[slip]}" if slip else ""


def outcome_words(outcome: str) -> str:
    """How the person who helped settled it."""
    return OUTCOMES[outcome]


_FOLLOWS = {
    Then.READ_WHAT_DIFFERS: "both read again, alone, what they read differently",
    Then.GO_ON: "the two go on from where they are",
    Then.END: "it is opened anew later",
}


def outcome_choice(outcome: Outcome, kind: Kind) -> str:
    """The same to choose from, with what follows at once."""
    return f"{outcome_words(outcome.name)}: {follows_words(outcome, kind)}"


def follows_words(outcome: Outcome, kind: Kind) -> str:
    """What the two do after an outcome."""
    if outcome.then is Then.READ:
        read = [source_words(each).lower() for each in read_after(outcome, kind)]
        return f"both read {listed([f'the {each}' for each in read])} again, alone"
    return _FOLLOWS[outcome.then]


def why_words(why: str) -> str:
    """Why help was asked for."""
    return WHYS.get(why, why)


def help_asked_words(*, is_taken: bool, by: str) -> str:
    """That help was asked for, and whether a third person has the request; by whom where that is told."""
    if is_taken:
        return f"Help was asked for: {by or 'a third person'} has the request."
    return "Help was asked for: nobody has taken the request yet. If it cannot wait, call somebody."


def abandon_words(reason: str) -> str:
    """Why a check was given up."""
    return ABANDON_REASONS.get(reason, reason)


def became_words(outcome: str) -> str:
    """What became of a check."""
    return BECAME[outcome]


def settled_words(settled: str, outcome: str = "") -> str:
    """How a finding came to rest; and how a third person settled it, where the two had asked for help."""
    return f"{SETTLED[settled]} ({outcome_words(outcome).lower()})" if outcome else SETTLED[settled]


def voided_words(why: str) -> str:
    """Why a round was voided, without a word of what somebody saw; blank where it was not."""
    if why == PUT_RIGHT_MEANWHILE:
        return f"voided: {why}"
    return "voided: somebody saw danger and said so" if why else ""


def put_right_words(source: str) -> str:
    """What was done when this source was put right."""
    return PUT_RIGHT[source]


def spell(seconds: int) -> str:
    """A stretch of time for people: seconds, minutes, or hours and minutes."""
    minutes, rest = divmod(seconds, 60)
    hours, minutes_left = divmod(minutes, 60)
    if hours:
        return f"{hours} h {minutes_left} min"
    return f"{minutes} min" if minutes else f"{rest} s"
