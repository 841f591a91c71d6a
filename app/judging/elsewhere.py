"""What runs already for the same patient, or at the same bed: nobody gets two infusions at once.

A patient is known by the identifier that both read from the wristband, in the one form in which wristbands
are compared. Of another patient's infusion nothing is said but where it runs.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from app.comparison.wording import listed
from app.judging.findings import stop
from app.judging.identifiers import is_patient
from app.records.followup import Found
from app.records.kept import LETTERS
from app.records.kinds import Kind
from app.records.known import Runs
from app.records.reading import Answers

_FIELD = "patient.identifier"
_THIS_BED = "this bed"


@dataclass(frozen=True, kw_only=True)
class Beside:
    """An infusion that stands against a start; `same`: it is the same patient's."""

    runs: Runs
    same: bool

    def as_data(self) -> dict[str, object]:
        """As a comparison keeps it: where, and never whose."""
        there = self.runs
        place = {"unit": there.unit, "unit_name": there.unit_name, "bed": there.bed, "here": there.here}
        return {**place, "same": self.same}


def agreed_patient(first: Answers, second: Answers) -> str:
    """The identifier that both read from the wristband; blank while they have not agreed on one."""
    one, other = (answers.get("wristband", {}).get("identifier", "") for answers in (first, second))
    return one if is_patient(one, other) else ""


def beside(kind: Kind, first: Answers, second: Answers, running: Iterable[Runs]) -> tuple[Beside, ...]:
    """Of what runs, what stands against a start: the same patient's, and at a bed of a set-up whosever."""
    agreed = agreed_patient(first, second)
    if not agreed:
        return ()
    found = cannot_run_beside(agreed, running)
    return tuple(each for each in found if each.same or not kind.is_running)


def cannot_run_beside(patient: str, running: Iterable[Runs]) -> tuple[Beside, ...]:
    """Of what runs, what cannot run beside this patient's: the same patient's, and at this bed whosever."""
    all_that_runs = (Beside(runs=each, same=is_patient(each.patient, patient)) for each in running)
    return tuple(each for each in all_that_runs if each.same or each.runs.here)


def says_where(some: Iterable[Beside]) -> str:
    """What runs and where, in one sentence for each kind of danger; blank where nothing does."""
    some = tuple(some)
    same = [_place(each.runs) for each in some if each.same]
    sentences = []
    if same:
        sentences.append(f"PCA runs already for this patient: {listed(list(dict.fromkeys(same)))}.")
    if any(not each.same for each in some):
        sentences.append("Another infusion still runs at this bed.")
    return " ".join(sentences)


def runs_elsewhere(some: Iterable[Beside], first: Answers, second: Answers) -> Iterator[Found]:
    """A stop for each kind of danger."""
    some = tuple(some)
    read = zip(LETTERS, (first, second), strict=True)
    readings = {f"{letter}.wristband": each.get("wristband", {}).get("identifier") for letter, each in read}
    for code, is_same, then in (
        ("runs-elsewhere", True, _THEN_OF_PATIENT),
        ("bed-still-runs", False, _THEN_OF_BED),
    ):
        where = says_where(each for each in some if each.same is is_same)
        if where:
            yield stop(code=code, field=_FIELD, readings=readings, says=f"{where} {then}", origin="")


_THEN_OF_PATIENT = (
    "Two at once can stop the breathing. Look there at patient, wristband and device. "
    "Where it was stopped, write the stop down; where it runs, only one may go on."
)
_THEN_OF_BED = (
    "Look whose device it is. If it was stopped, write the stop down; "
    "if it runs, nothing is set up beside it."
)


def _place(there: Runs) -> str:
    return _THIS_BED if there.here else f"{there.unit_name}, bed\N{NO-BREAK SPACE}{there.bed}"
