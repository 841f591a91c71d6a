"""What no page could save: the least that a whole set-up costs, counted like what was pressed.

The first floor: for each thing that is read one thought, its characters or one key for a choice, one key for
its unit where there are several, and one to go on to the next; one sign-in and one signature, each an id and
a secret. The second adds what the rules of safety demand of this nurse beyond reading: that the bed is named
or the check is joined by a choice, that the reading is locked by one, what is observed and written down, and
one confirmation of each safety step, of the last look and of the start.
"""

from collections.abc import Iterable, Mapping

from app.records.fields import FIELDS
from app.records.reading import Answers
from app.records.sources import NONE, Field, Form, Source
from tests.browser.keystrokes import Counts, strokes

Floor = Mapping[str, Counts]

# A thought, a key that says it, and a key to the next.
CHOSEN = Counts(m=1, k=2)
_WRITTEN_FORMS = (Form.TEXT, Form.CODE, Form.MOMENT)


def reading_floor(answers: Answers, login: str, secret: str) -> Floor:
    """The first floor, by screen."""
    credential = written(login) + written(secret)
    return {"sign-in": credential, "sign": credential} | {
        f"read {source}": sum(
            (answered(each, given.get(each.name, "")) for each in FIELDS[Source(source)]), Counts()
        )
        for source, given in answers.items()
    }


def safety_floor(confirmed: int, entries: Iterable[str], *, bed: str = "", starts: bool) -> Floor:
    """What the second floor adds, by screen: the bed that is named or the check that is joined, handing in.

    Then ticked steps, the `entries` written with them, looks, start.
    """
    return {
        **({"open": written(bed)} if bed else {"join": CHOSEN}),
        "read": CHOSEN,
        "steps": sum([CHOSEN] * confirmed, sum(map(written, entries), Counts())),
        "start": CHOSEN + CHOSEN if starts else CHOSEN,
    }


def eight_digits(day: str) -> str:
    """A day in the site's order, as short as it may be written."""
    year, month, number = day.split("-")
    return number + month + year


def written(text: str) -> Counts:
    """One thing that is written: a thought, its characters, and on to the next."""
    return Counts(m=1, k=strokes(text) + 1)


def answered(field: Field, answer: str) -> Counts:
    """One answer of a reading; nothing where there is nothing to read."""
    if not answer:
        return Counts()
    if answer == NONE and field.may_be_none:
        return CHOSEN
    if field.form is Form.DATE:
        return written(eight_digits(answer))
    if field.form is Form.QUANTITY:
        number, _, _ = answer.partition(" ")
        return written(number) + Counts(k=int(len(field.units) > 1))
    return written(answer) if field.form in _WRITTEN_FORMS else CHOSEN
