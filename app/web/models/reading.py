"""One clinician's own reading as pages show it: a source to read, what was read so far, and waiting."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from app.quantities import DateOrder, set_off, show_date
from app.records.kept import FIRST, SECOND
from app.records.reading import Answers, asked_of, missing, sources_in
from app.records.sources import NONE, AskedWhen, Field, Form, Source
from app.records.state import PUT_RIGHT_MEANWHILE, Round
from app.reports.times import day_in_words
from app.web.forms.reading import Input, ReadForm
from app.web.forms.scanning import fields_for_scan
from app.web.models.check import Bedside, bedside
from app.words.checking import outcome_words
from app.words.names import answer_words
from app.words.reading import SCAN_HINTS, again_words, first_words, guide_words
from app.words.screens import source_words
from app.workflow.looking import Seen
from app.workflow.reading import Desk, Page


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One field: its input, a hint, and the other answer that decides whether it is asked at all."""

    input: Input
    hint: str
    decided_by: str
    asked_for: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class SourcePage:
    """One source to read."""

    head: Bedside
    part: str
    source: str
    name: str
    guide: str
    again: str
    together: bool
    path: tuple[tuple[str, bool], ...]
    asked: tuple[Asked, ...]
    # What the other is asked for: it may be given here too. It stands open once anything is in it.
    others: tuple[Asked, ...]
    other_part: str
    others_open: bool
    # The field before which the line for a scan stands; blank where none can be filled in.
    scan_before: str
    scan_hint: str
    has_numbers: bool
    has_echoes: bool
    shown: Page
    has_before: bool
    after: str


@dataclass(frozen=True, kw_only=True)
class Given:
    """One field of the own reading; `entered` false where it was asked for and is blank."""

    label: str
    text: str
    is_amount: bool
    is_code: bool
    entered: bool


@dataclass(frozen=True, kw_only=True)
class SourceRead:
    """One source of the own reading."""

    source: str
    name: str
    given: tuple[Given, ...]


@dataclass(frozen=True, kw_only=True)
class ReviewPage:
    """The whole own reading before it is handed in."""

    head: Bedside
    shown: Page
    sources: tuple[SourceRead, ...]
    missing: int
    # Sources with something that is not entered, and the first with nothing at all: (source, its name).
    lacking: tuple[tuple[str, str], ...]
    unread: tuple[str, str] | None
    # Sources with something written that was never kept: (source, its name).
    not_kept: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class WaitingPage:
    """After handing in: whether the other has too, and who that is; blank while nobody has joined.

    `together`: both count together, not blind. `hands_over`: it is one of several that this person may hand
    over, bed by bed.
    """

    head: Bedside
    both: bool
    colleague: str
    together: bool
    hands_over: bool


def waiting_page(seen: Seen, current: Round) -> WaitingPage:
    """For one of the two who has handed in: no time and no value."""
    state = seen.loaded.state
    return WaitingPage(
        head=bedside(state, seen.unit, viewer=seen.viewer, number=current.number, names=seen.names),
        both={FIRST, SECOND} <= set(current.handed_in),
        colleague=next((seen.names[each] for each in state.people.values() if each != seen.viewer), ""),
        together=current.recount,
        hands_over=state.kind.responsible not in (None, seen.slot),
    )


def _head(desk: Desk) -> Bedside:
    return bedside(desk.state, desk.unit, viewer=desk.state.people[desk.slot], number=desk.round.number)


def source_page(desk: Desk, source: Source, form: ReadForm, *, shown: Page) -> SourcePage:
    """The page of one source, with what was typed in it; `shown` is which draft it goes by."""
    current = desk.round
    sources = sources_in(current.scope)
    index = sources.index(source)
    asked = {each.name for each in _asked_of(desk, source)}
    mine = [each for each in form.inputs if each.field.name in asked]
    others = [each for each in form.inputs if each.field.name not in asked]
    return SourcePage(
        head=_head(desk),
        part=desk.state.kind.part(desk.slot),
        source=source.value,
        name=source_words(source.value),
        guide=guide_words(desk.state.kind, source),
        again=_again(desk, source),
        together=desk.round.recount,
        path=tuple((source_words(each.value), each is source) for each in sources),
        asked=tuple(_asked(each) for each in mine),
        others=tuple(_asked(each) for each in others),
        other_part=desk.state.kind.part(FIRST),
        others_open=any(each.typed or each.none or each.fault or each.note for each in others),
        scan_before=_scan_before(mine),
        scan_hint=SCAN_HINTS.get(source, ""),
        has_numbers=any(each.field.form in {Form.QUANTITY, Form.COUNT} for each in form.inputs),
        has_echoes=any(each.field.form in {Form.QUANTITY, Form.DATE} for each in form.inputs),
        shown=shown,
        has_before=index > 0,
        after="" if (after := source_after(desk, source)) is None else source_words(after.value),
    )


def source_after(desk: Desk, source: Source) -> Source | None:
    """The source that is read after this one; None where the whole reading is looked over next.

    Whoever comes back to one source when all are read has only that one to change.
    """
    sources = sources_in(desk.round.scope)
    others = [each for each in sources if each is not source]
    if all(desk.answers.get(each.value) for each in others):
        return None
    return next(iter(sources[sources.index(source) + 1 :]), None)


def _asked_of(desk: Desk, source: Source) -> tuple[Field, ...]:
    is_scanned = desk.rules.policy.is_scanned
    return asked_of(desk.slot, desk.round.scope, source, is_scanned=is_scanned, also_read=desk.also_read)


def _scan_before(inputs: Iterable[Input]) -> str:
    fields = [each.field for each in inputs]
    filled = fields_for_scan(fields)
    return next((each.name for each in fields if each.name in filled), "")


def _again(desk: Desk, source: Source) -> str:
    """Why a source is read again, without a word of what was read; the first time, what comes before it."""
    kind = desk.state.kind
    if desk.round.number == 1:
        return first_words(kind, source)
    return again_words(kind, source, _why_again(desk, source))


def _why_again(desk: Desk, source: Source) -> str:
    before = desk.state.rounds[-2]
    if before.voided == PUT_RIGHT_MEANWHILE:
        return _why_anew(desk, source, before)
    if before.puts_aside(source.value):
        return "Somebody saw danger. This source starts empty for both of you: read all of it."
    if before.voided and desk.slot in before.handed_in:
        return "Somebody saw danger. What you had handed in counts no more: read all of it once more."
    if before.voided:
        return "Somebody saw danger in another source. What you had written in this one stands."
    if desk.round.recount:
        return "Count this together, both looking at device and barrel; each writes it down. It is not blind."
    settled = desk.round.outcome and not dict(desk.round.scope)[source.value]
    if settled or source.value in desk.round.touched:
        done = outcome_words(desk.round.outcome) if settled else "This was put right"
        return f"{done}. Read all of it again, as if for the first time."
    return "Read only these again, as if for the first time. What you read before is not shown."


def _why_anew(desk: Desk, source: Source, before: Round) -> str:
    """Why it begins anew, when who helped settled it while both still read."""
    done = outcome_words(desk.round.outcome)
    if before.puts_aside(source.value):
        return f"{done} meanwhile. This source starts empty for both of you: read all of it."
    if desk.slot in before.handed_in:
        return f"{done} meanwhile. What you had handed in counts no more: read all of it once more."
    return f"{done} meanwhile. What you had written in this source stands."


def _asked(shown: Input) -> Asked:
    when = shown.field.asked_when
    return Asked(
        input=shown,
        hint=_hint(shown),
        decided_by=when.field if when else "",
        asked_for=_asked_for(when) if when else (),
    )


def _hint(shown: Input) -> str:
    if not shown.date_order:
        return shown.field.hint
    return f"{DateOrder(shown.date_order).words.capitalize()}. {shown.field.hint}"


def _asked_for(when: AskedWhen) -> tuple[str, ...]:
    """The answers at which a field is in sight: blank among them, but for one of several ways to choose from.

    `value` is any answer but *none*.
    """
    is_one_of_several = bool(when.among) and when.else_idle
    blank = ("",) if when.while_blank and not is_one_of_several else ()
    return (*blank, *(when.among or ("value",)))


def review_page(desk: Desk, packs: Mapping[str, str]) -> ReviewPage:
    """The own reading in the own words, and what is not entered."""
    scope = desk.round.scope
    policy = desk.rules.policy
    lacking = set(
        missing(
            scope,
            desk.answers,
            desk.before,
            slot=desk.slot,
            is_scanned=policy.is_scanned,
            also_read=desk.also_read,
        )
    )
    return ReviewPage(
        head=_head(desk),
        shown=desk.page,
        sources=tuple(
            SourceRead(
                source=source.value,
                name=source_words(source.value),
                given=_given(source, desk.fields(source), desk.answers, lacking=lacking, packs=packs),
            )
            for source in sources_in(scope)
        ),
        missing=len(lacking),
        lacking=tuple(
            (each.value, source_words(each.value))
            for each in sources_in(scope)
            if any(source == each.value for source, _ in lacking)
        ),
        unread=next(
            (
                (each.value, source_words(each.value))
                for each in sources_in(scope)
                if not desk.answers.get(each.value)
            ),
            None,
        ),
        not_kept=tuple(
            (each.value, source_words(each.value)) for each in sources_in(scope) if each.value in desk.typed
        ),
    )


def _given(
    source: Source,
    fields: tuple[Field, ...],
    answers: Answers,
    *,
    lacking: set[tuple[str, str]],
    packs: Mapping[str, str],
) -> tuple[Given, ...]:
    of_source = answers.get(source.value, {})
    return tuple(
        Given(
            label=field.label,
            text=_words(field, of_source.get(field.name, ""), packs),
            is_amount=field.form in {Form.QUANTITY, Form.COUNT} and of_source.get(field.name) != NONE,
            is_code=field.form in {Form.TEXT, Form.CODE},
            entered=bool(of_source.get(field.name)),
        )
        for field in fields
        if of_source.get(field.name) or (source.value, field.name) in lacking
    )


def _words(field: Field, answer: str, packs: Mapping[str, str]) -> str:
    if answer == NONE and field.may_be_none:
        return field.none
    match field.form:
        case Form.PACK:
            return packs.get(answer, answer)
        case Form.CHOICE:
            return answer_words(answer)
        case Form.DATE if answer:
            return show_date(date.fromisoformat(answer))
        case Form.MOMENT if field.stamped:
            return day_in_words(answer)
        case Form.MOMENT:
            day, _, time = answer.partition("T")
            return f"{day} {time[:5]}".strip()
        case Form.QUANTITY:
            return set_off(answer)
        case _:
            return answer
