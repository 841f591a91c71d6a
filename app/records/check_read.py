"""What a check read that bears on the account of its infusion."""

from dataclasses import dataclass

from app.records.kept import KeptComparison


@dataclass(frozen=True, kw_only=True)
class CheckRead:
    """What a check read that bears on the account: the rounds that were compared, and the primed volume."""

    rounds: tuple[KeptComparison, ...] = ()
    primed: KeptComparison | None = None

    def until(self, number: int) -> KeptComparison | None:
        """The last comparison of the sources in or before a round."""
        return max((each for each in self.rounds if each.round <= number), key=_round, default=None)

    @property
    def last(self) -> KeptComparison | None:
        """The last comparison of the sources."""
        return max(self.rounds, key=_round, default=None)


def _round(kept: KeptComparison) -> int:
    return kept.round
