"""What is said to a witness who is refused, and to two who do not agree: in a check and outside of any."""

from app.web.forms.taking_back import WitnessForm
from app.workflow import witnessing
from app.workflow.refusals import TooManyTries, WrongCredential

APART = "The two volumes do not agree. Both of you read once more, each alone: you first."
NOTHING_WAITS = "Nothing waits for a witness. Read the volume first."
_SAME = "Whoever writes it is no witness of it. Another licensed person looks, and gives id and secret."
_NO_WITNESS = "The rules of this hospital do not let this person witness it. Nothing was written."
_PRESCRIBED = "Whoever prescribed it is no witness of what becomes of it. Nothing was written."
_WRONG = "Id and secret do not belong together. Nothing was written."

Refused = (
    witnessing.Unwritable
    | witnessing.SamePerson
    | witnessing.NoWitness
    | witnessing.Prescribed
    | WrongCredential
    | TooManyTries
)


def refuse_witness(form: WitnessForm, refusal: Refused) -> WitnessForm:
    """Say beside its field what is wrong; what was written stays, the secret does not."""
    match refusal:
        case witnessing.Unwritable(faults=faults):
            form.refuse_all(faults)
        case witnessing.SamePerson():
            form.refuse("login", _SAME)
        case witnessing.NoWitness():
            form.refuse("login", _NO_WITNESS)
        case witnessing.Prescribed():
            form.refuse("login", _PRESCRIBED)
        case WrongCredential():
            form.refuse("secret", _WRONG)
        case TooManyTries(seconds=seconds):
            form.refuse("secret", f"Too many tries with this id. Wait {seconds} s, then try again.")
    return form
