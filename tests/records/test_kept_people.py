"""What is kept of people beside their accounts."""

from datetime import UTC, date, datetime

from app.records.kept_people import Training


def test_the_day_of_a_training_is_a_date() -> None:
    training = Training(
        id="t-1",
        person="n.ferrow",
        topic="pca",
        trained_on="2031-02-28",
        recorded_by="a.moreau",
        recorded_at=datetime(2031, 3, 1, 8, 0, tzinfo=UTC),
    )

    assert training.day == date(2031, 2, 28)
