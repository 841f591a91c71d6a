from app.records.verification import FORMAT, Answer, Question, Verification


def verification(*held: int) -> Verification:
    answers = tuple(
        Answer(question=question, holds=bool(holds), says="Because.")
        for question, holds in zip(Question, held, strict=False)
    )
    return Verification(record="check-1", edition=2, answers=answers)


def test_everything_holds_only_when_each_answer_does() -> None:
    assert verification(1, 1).holds
    assert not verification(1, 0).holds


def test_as_data() -> None:
    assert verification(1, 0).as_data() == {
        "format": FORMAT,
        "record": "check-1",
        "edition": 2,
        "holds": False,
        "answers": [
            {"about": "seal", "holds": True, "says": "Because."},
            {"about": "issued", "holds": False, "says": "Because."},
        ],
    }
