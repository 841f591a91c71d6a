"""The invented people of a ward."""

from dataclasses import dataclass

from app.people import Role
from app.workflow.enrolling import Newcomer
from tests.factories.enrolled import newcomer

WARD, RECOVERY = "ward-4-east", "recovery"


@dataclass(frozen=True, kw_only=True)
class Somebody:
    """An invented person: who, in which part, with which secret."""

    id: str
    printed_name: str
    roles: frozenset[Role]
    unit: str = WARD
    login: str = ""
    secret: str = ""

    def __post_init__(self) -> None:
        """What is typed at sign-in, where nothing else is said; a secret is long enough to be one."""
        object.__setattr__(self, "login", self.login or f"{self.id}.login")
        object.__setattr__(self, "secret", self.secret or f"{self.id} hums beneath the copper stairs")

    @property
    def newcomer(self) -> Newcomer:
        """The account to be, with a confirmed key."""
        same = {
            each: getattr(self, each) for each in ("id", "login", "printed_name", "roles", "unit", "secret")
        }
        return newcomer(staff_number=f"DM-{self.id}", **same)


NADIA = Somebody(id="nadia", printed_name="Nadia Ferrow", roles=frozenset({Role.NURSE}))
TOMAS = Somebody(id="tomas", printed_name="Tomas Osmund", roles=frozenset({Role.NURSE}))
IMOGEN = Somebody(id="imogen", printed_name="Imogen Bexley", roles=frozenset({Role.NURSE}))
INES = Somebody(id="ines", printed_name="Ines Kovac", roles=frozenset({Role.NURSE}), unit=RECOVERY)
RUTH = Somebody(id="ruth", printed_name="Ruth Calloway", roles=frozenset({Role.CHARGE_NURSE}))
RALPH = Somebody(
    id="ralph", printed_name="Ralph Denning", roles=frozenset({Role.CHARGE_NURSE}), unit=RECOVERY
)
PETRA = Somebody(id="petra", printed_name="Petra Varga", roles=frozenset({Role.PHARMACIST}), unit=RECOVERY)
QUILL = Somebody(id="quill", printed_name="Quill Lindqvist", roles=frozenset({Role.QUALITY}))
ADELE = Somebody(id="adele", printed_name="Adele Moreau", roles=frozenset({Role.ADMINISTRATOR}))
EVERYBODY = (NADIA, TOMAS, IMOGEN, INES, RUTH, RALPH, PETRA, QUILL, ADELE)
