"""Adding what stands about people beside their accounts."""

from app.records.kept_people import (
    Acceptance,
    KeptCompetency,
    RefusedSignings,
    RefusedSigningsTold,
    Training,
    TrainingWithdrawal,
)
from app.storage import people_tables
from app.storage.writer import Writer


class PeopleWriter(Writer):
    """Adds rows; each may raise ConstraintBroken with the name of the rule that refused it."""

    def add_training(self, training: Training) -> None:
        """Somebody else recorded a person's training."""
        self._add(people_tables.training, training)

    def withdraw_training(self, withdrawal: TrainingWithdrawal) -> None:
        """It was recorded wrongly."""
        self._add(people_tables.training_withdrawal, withdrawal)

    def add_acceptance(self, acceptance: Acceptance) -> None:
        """A person accepted a statement of accountability."""
        self._add(people_tables.acceptance, acceptance)

    def add_refused_signings(self, refused: RefusedSignings) -> None:
        """Signings with one id were refused again and again."""
        self._add(people_tables.refused_signings, refused)

    def add_refused_signings_told(self, told: RefusedSigningsTold) -> None:
        """Somebody has read of it."""
        self._add(people_tables.refused_signings_told, told)

    def add_competency_file(self, file: KeptCompetency) -> None:
        """What a person and a trainer signed was sealed."""
        self._add(people_tables.competency_file, file)
