"""The columns of the exported table: what each says, and what becomes of it where nobody may be known."""

from dataclasses import dataclass
from enum import StrEnum


class Holds(StrEnum):
    """What a column holds."""

    TEXT = "text"
    NUMBER = "number"
    TIME = "time"
    YES_OR_NO = "yes or no"


class Bared(StrEnum):
    """What stands in a column of a de-identified export."""

    KEPT = "as it is"
    LEFT_OUT = "left out"
    SHIFTED = "shifted"
    PSEUDONYM = "pseudonym"
    AS_UNITS = "as the policy says of units"
    AS_BEDS = "as the policy says of beds"


@dataclass(frozen=True, kw_only=True)
class Exported:
    """One column; `of` is the table and the column that it is read from, blank where it is made otherwise."""

    name: str
    says: str
    of: str = ""
    holds: Holds = Holds.TEXT
    bared: Bared = Bared.KEPT


# What a row of the table is.
FINDING, CHECK, STOP, BASELINE, UNCHECKED = "finding", "check", "stop", "refused baseline", "no check"


def _check(name: str, says: str, holds: Holds = Holds.TEXT, bared: Bared = Bared.KEPT) -> Exported:
    return Exported(name=name, says=says, of=f"ended_check.{name}", holds=holds, bared=bared)


def _finding(
    name: str, says: str, holds: Holds = Holds.TEXT, *, of: str = "", bared: Bared = Bared.KEPT
) -> Exported:
    return Exported(name=name, says=says, of=of or f"finding.{name}", holds=holds, bared=bared)


def _seconds(to: str) -> Exported:
    says = f"seconds from the opening to `{to}_at`"
    return Exported(name=f"seconds_to_{to}", says=says, holds=Holds.NUMBER)


_NUMBER, _TIME, _YES_OR_NO = Holds.NUMBER, Holds.TIME, Holds.YES_OR_NO
_LEFT_OUT, _SHIFTED, _PSEUDONYM = Bared.LEFT_OUT, Bared.SHIFTED, Bared.PSEUDONYM
# To what it took how long from the opening of a check.
DURATIONS = ("joined", "compared", "cleared", "started", "ended")

COLUMNS: tuple[Exported, ...] = (
    Exported(
        name="row",
        says=f"what the row is: {FINDING} (a row each), {CHECK} (one without a finding), {STOP}, "
        f"{BASELINE} or {UNCHECKED} (a start without one)",
    ),
    _check("check", "the id of the check", bared=_PSEUDONYM),
    _check("infusion", "the id of the infusion", bared=_PSEUDONYM),
    _check(
        "patient", "the pseudonym of the patient; blank where no wristband was read alike", bared=_PSEUDONYM
    ),
    _check("kind", "the kind of check"),
    _check("unit", "the unit, by its id", bared=Bared.AS_UNITS),
    _check("bed", "the bed", bared=Bared.AS_BEDS),
    _check("drug", "the drug; blank where it is not clear"),
    _check(
        "device",
        "the serial number of the device, its capitals and digits, as both read it alike; blank where it was "
        "not asked for, not read, or not alike",
        bared=_PSEUDONYM,
    ),
    _check("opened_at", "when the check was opened", _TIME, _SHIFTED),
    _check("joined_at", "when the second nurse joined", _TIME, _SHIFTED),
    _check("compared_at", "when the first pair of readings was compared", _TIME, _SHIFTED),
    _check("cleared_at", "when both had signed last, whatever became of it", _TIME, _SHIFTED),
    _check("started_at", "when it was started", _TIME, _SHIFTED),
    Exported(name="started_by", says="A or B: who started it"),
    _check("ended_at", "when the check ended", _TIME, _SHIFTED),
    *(_seconds(each) for each in DURATIONS),
    _check("how", "how it ended: started, done, led to another, abandoned"),
    _check("reason", "why it was abandoned, or to which kind of check it led"),
    _check("was_lapsed", "whether it had been ready to start and lapsed", _YES_OR_NO),
    _check("rounds", "how many pairs of readings there were", _NUMBER),
    _check("rounds_voided", "how many of them were voided as not blind", _NUMBER),
    _check("rereadings", "how often something was read again", _NUMBER),
    _check("stops", "how many stops were found, each once", _NUMBER),
    _check("cautions", "how many cautions", _NUMBER),
    _check("notes", "how many notes", _NUMBER),
    _check("exceptions", "how many rules were set aside", _NUMBER),
    _check("escalated", "how often help was asked for", _NUMBER),
    _check("independence", "how independent the last compared pair was"),
    _check("earlier_look", "whether one of the two had seen earlier values", _YES_OR_NO),
    _check("account", "what the account came to: agreed, cautioned or stopped; blank without one"),
    _check("account_left", "the volume left in all syringes by the last count, exact, in mL"),
    _check("account_difference", "the difference of the whole account, exact, in mL; plus: more is gone"),
    _check("edition", "the edition of its record, from 1; 0 without one", _NUMBER),
    _check("format", "the format of its record"),
    _check("invented", "whether its rules are invented, never for a patient", _YES_OR_NO),
    _check("engine", "version of the engine"),
    _check("policy", "version of the site's policy", bared=_LEFT_OUT),
    _check("library", "version of the drug library", bared=_LEFT_OUT),
    Exported(
        name="nurse_a",
        says="the pseudonym of A, the first nurse",
        of="ended_check.pseudonym_a",
        bared=_PSEUDONYM,
    ),
    Exported(
        name="nurse_b",
        says="the pseudonym of B, the second nurse",
        of="ended_check.pseudonym_b",
        bared=_PSEUDONYM,
    ),
    Exported(name="name_a", says="printed name of A", of="person_a.printed_name", bared=_LEFT_OUT),
    Exported(name="staff_number_a", says="staff number of A", of="person_a.staff_number", bared=_LEFT_OUT),
    Exported(name="name_b", says="printed name of B", of="person_b.printed_name", bared=_LEFT_OUT),
    Exported(name="staff_number_b", says="staff number of B", of="person_b.staff_number", bared=_LEFT_OUT),
    _finding("subject", "in what it was found: sources, two readings; or priming, one volume that ran out"),
    _finding("round", "which pair of readings that was, or which judgement of a volume, from 1", _NUMBER),
    _finding("number", "the number of the finding in it", _NUMBER),
    _finding("found_at", "when that was compared", _TIME, of="finding.compared_at", bared=_SHIFTED),
    _finding("severity", "stop, caution or note"),
    _finding("code", "the code of the finding"),
    _finding("field", "the field that it is about"),
    _finding("about", "patient where it is a danger to whoever is connected"),
    _finding("clinician", "A or B where only that one's readings show it"),
    _finding("group", "the group of cautions that it is settled with"),
    _finding("origin", "reading, order, supply or programming"),
    _finding("slip", "the slip that it is consistent with"),
    _finding("factor", "by which factor the two values differ"),
    _finding("repeated", "whether one before had it already", _YES_OR_NO),
    _finding(
        "pair_independence", "how independent the pair was; blank of a volume", of="finding.independence"
    ),
    _finding("settled", "how it came to rest", of="finding_settled.settled"),
    _finding("settled_at", "when", _TIME, of="finding_settled.settled_at", bared=_SHIFTED),
    _finding(
        "settled_in_round",
        "the pair of readings, or the judgement, in which it was gone",
        _NUMBER,
        of="finding_settled.settled_in_round",
    ),
    _finding(
        "settled_by",
        "A, B or both: who acknowledged it, or had it read again",
        of="finding_settled.settled_by",
    ),
    _finding(
        "settled_outcome",
        "how a third person settled it, where the two had asked for help",
        of="finding_settled.settled_outcome",
    ),
    _finding(
        "seconds_to_settle", "from the comparison to then", _NUMBER, of="finding_settled.seconds_to_settle"
    ),
    _finding("reason_a", "the reason that A gave in acknowledging it", of="finding_settled.reason_a"),
    _finding("reason_b", "the reason that B gave", of="finding_settled.reason_b"),
    Exported(
        name="at",
        says="of a stop, a refused baseline or a start without a check: when it was written",
        holds=_TIME,
        bared=_SHIFTED,
    ),
    Exported(name="by", says="by whom, as a pseudonym", bared=_PSEUDONYM),
    Exported(name="name_by", says="the printed name of that person", bared=_LEFT_OUT),
    Exported(name="stated_at", says="when it was, as that person wrote it", bared=_LEFT_OUT),
    Exported(name="why", says="why, in that person's words", bared=_LEFT_OUT),
    Exported(name="totals", says="the device's totals, as they were written", bared=_LEFT_OUT),
    Exported(name="scale", says="of a refused baseline: the scale of sedation"),
    Exported(name="sedation", says="the level on it"),
    Exported(name="respiratory_rate", says="the respiratory rate"),
    Exported(name="spo2", says="SpO2"),
)

_NAMES = [each.name for each in COLUMNS]
# Behind what a row is stand the columns of a check, and then those of a finding.
OF_CHECK = COLUMNS[1 : _NAMES.index("subject")]
OF_FINDING = COLUMNS[_NAMES.index("subject") : _NAMES.index("at")]
# Between what the database has put together for one check; a text may hold it, too.
MARK = "\x1e"
