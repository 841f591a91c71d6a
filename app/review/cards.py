"""Sets of training cards: an invented bed with at most one error in it, drawn from a stated seed.

Order and error are those of the study. Only an order that the site's own rules take without a stop is dealt,
and only an error that they stop when both read what stands there: what a card cannot show trains nobody.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from app.comparison import CaseError, Severity, evaluate, read_case
from app.records.field_table import AMOUNT_IN_VOLUME
from app.records.fields import FIELDS
from app.records.kept import LETTERS
from app.records.reading import Answers
from app.records.sources import NONE, Source
from app.review.alone import shown_alone
from app.review.draws import Draws
from app.review.errors import Error, with_error
from app.review.true_cases import ORDERS, Against, Ordered, Sources, case_of, true_sources

WITHOUT_ERROR = Fraction(1, 4)
"""So many sets have none: whoever knew that there is always one would look until it was found."""

_CARRIER = {"fluid": "sodium chloride 0.9%", "rate": "10 mL/h"}
_DIGITS = 10


@dataclass(frozen=True, kw_only=True)
class CardSet:
    """What stands on the cards of one set, in the words of the contract; no `error`: all of it agrees.

    `fields` are those on which whoever reads what stands there is stopped.
    """

    sources: Sources
    error: Error | None
    fields: tuple[str, ...]


@dataclass(frozen=True)
class NothingUsual:
    """The site's rules stop every order that there is, or every error of the mix that could be shown."""


@dataclass(frozen=True, kw_only=True)
class Dealt:
    """Which set: the `place`th that a seed and a mix deal, and the number under which it is printed."""

    seed: str
    mix: str
    weights: Mapping[Error, int]
    place: int
    number: int


def deal(dealt: Dealt, against: Against) -> CardSet | NothingUsual:
    """One set: the same seed deals the same again under the same rules."""
    draws = Draws(f"{dealt.seed} cards {dealt.mix} {dealt.place}")
    orders = [each for each in ORDERS if not _stopped_on(_hung(true_sources(each)), against)]
    if not orders:
        return NothingUsual()
    ordered = draws.one_of(orders)
    identifier, other = _identifiers(dealt.number, draws)
    if draws.happens(WITHOUT_ERROR):
        return CardSet(sources=_of(_hung(true_sources(ordered)), identifier, other), error=None, fields=())
    weights = dict(dealt.weights)
    while weights:
        error = draws.weighted(weights)
        sources, fields = _wrong(error, ordered, draws, against)
        if fields:
            return CardSet(sources=_of(sources, identifier, other), error=error, fields=fields)
        del weights[error]
    return NothingUsual()


def _wrong(error: Error, ordered: Ordered, draws: Draws, against: Against) -> tuple[Sources, tuple[str, ...]]:
    """What stands there once the error has been made, and on what whoever reads it is stopped."""
    sources = _hung(with_error(error, ordered, draws))
    return sources, _stopped_on(sources, against)


def _stopped_on(sources: Sources, against: Against) -> tuple[str, ...]:
    """The fields on which two are stopped who both read what stands there."""
    read = read_case(case_of(sources, sources, against))
    if isinstance(read, CaseError):
        message = f"cards were made that cannot be read: {read.path}: {read.code}"
        raise ValueError(message)  # noqa: TRY004  # it is not about a type: only a bug comes here
    stops = (each.field for each in evaluate(read).findings if each.severity is Severity.STOP)
    return tuple(dict.fromkeys(stops))


def _hung(sources: Sources) -> Sources:
    """The same with a carrier, as at most beds."""
    for each in ("order", "device"):
        sources[each]["carrier"] = dict(_CARRIER)
    return sources


def _identifiers(number: int, draws: Draws) -> tuple[str, str]:
    """The patient of this set alone, and another whose last two digits stand the other way about."""
    last = draws.below(_DIGITS)
    before = (last + 1 + draws.below(_DIGITS - 1)) % _DIGITS
    return f"INVENTED-{number:04d}{before}{last}", f"INVENTED-{number:04d}{last}{before}"


def _of(sources: Sources, identifier: str, other: str) -> Sources:
    """The same of another patient; whoever was another before is another still."""
    own = sources["patient"]["identifier"]

    def renamed(patient: dict[str, Any]) -> dict[str, Any]:
        named = identifier if patient["identifier"] == own else other
        return {**patient, "identifier": named}

    return {
        **sources,
        "patient": renamed(sources["patient"]),
        **{
            each: {**sources[each], "patient": renamed(sources[each]["patient"])}
            for each in ("order", "label")
        },
    }


def caught_alone(case: Mapping[str, Any], fields: tuple[str, ...]) -> tuple[bool, ...]:
    """Whether each of the two caught what is wrong: what they read alone is stopped where it was dealt."""
    return tuple(any(shown_alone(case, letter, field) for field in fields) for letter in LETTERS)


def answers_on(sources: Sources, also: Mapping[str, str]) -> Answers:
    """What whoever reads the cards hands in, field by field; `also` is what the engine is told nothing of."""
    of_device = {key: each for key, each in sources["device"].items() if key != "monitor"}
    told: Mapping[Source, Mapping[str, Any]] = {
        Source.WRISTBAND: {"patient": sources["patient"]},
        Source.CHART: {"chart": sources["chart"]},
        Source.ORDER: sources["order"],
        Source.LABEL: sources["label"],
        Source.DEVICE: of_device,
        Source.MONITOR: {"monitor": sources["device"]["monitor"]},
    }
    return {source.value: _answers(source, each, also) for source, each in told.items()}


def _answers(source: Source, told: Mapping[str, Any], also: Mapping[str, str]) -> dict[str, str]:
    read = {"strength": AMOUNT_IN_VOLUME} if "amount" in told else {}
    for field in FIELDS[source]:
        text = _written(told, field.finding) or also.get(field.name, "")
        # Where there is no limit, its window is not none: there is none to be read.
        is_answer = text != NONE or field.may_be_none or NONE in field.choices
        if text and is_answer and field.name != "strength":
            read[field.name] = text
    return read


def _written(told: Mapping[str, Any], place: str) -> str:
    """What stands at a place of the contract; blank where nothing does."""
    key, _, inside = place.partition(".")
    if key not in told:
        return ""
    if told[key] is None:
        return NONE
    return _written(told[key], inside) if inside else str(told[key])
