"""The walk past what a site asks of people first, and what it tells of their logins."""

from app.workflow.credentials import Where, try_credential
from tests.browser.people import Person
from tests.browser.walk_running import Visitor
from tests.browser.ward import Ward

_TOPIC = "This program, one hour at a bed without a patient"
_ASKED: dict[str, object] = {
    "training": {"topics": [_TOPIC], "days": 365},
    "accountability": {
        "version": "2031-1",
        "text": [
            "My id and my secret are my signature: what is signed with them binds me like ink on paper.",
            "I give my secret to nobody, and sign what I have read and seen myself.",
        ],
    },
    "login_unused_days": 1,
    "refused_signings": {"count": 2, "within_minutes": 30},
}


def what_is_asked_first(ward: Ward, visitor: Visitor) -> None:
    """A nurse who is to be trained and to accept the statement, and an administrator who looks after it."""
    ward.publishes(**_ASKED)
    for number in range(2):
        where = Where(signed_in=f"somebody {number}")
        try_credential(
            ward.running.site, ward.now(), login="i.bexley", secret="wrong" * 4, what="signing", where=where
        )
    nurse = ward.person("t.osmund")
    nurse.go("/open")
    visitor.take(nurse, "asked first, a statement and training")
    nurse.follow("Read and accept the statement")
    visitor.take(nurse, "the statement of accountability")
    nurse.press("I accept this statement")
    nurse.go("/keys/statement")
    visitor.take(nurse, "the statement, accepted")
    administrator = ward.person("a.moreau")
    administrator.go("/accounts/unused")
    visitor.take(administrator, "logins not used")
    administrator.go("/keys")
    visitor.take(administrator, "refused signings")
    _training(visitor, administrator)


def _training(visitor: Visitor, administrator: Person) -> None:
    administrator.go("/accounts")
    administrator.follow("Tomas Osmund")
    administrator.write("On what day", "yesterday")
    administrator.press("Record the training")
    visitor.take(administrator, "training, faults")
    administrator.write("For what", _TOPIC)
    administrator.write("On what day", "2026-03-02")
    administrator.press("Record the training")
    visitor.take(administrator, "account, trained")
