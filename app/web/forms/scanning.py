"""The line for a scan: it fills in what is blank on its own page, and writes over nothing that was typed.

Only lot, use by and code of the label and the identifier of the wristband: no drug, no strength, no dose. It
is the reader's own, as if typed: nothing that is stored is looked at, and no value is judged.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from werkzeug.datastructures import MultiDict

from app.quantities import Fault
from app.quantities.scanned import SEPARATOR, SHOWN_SEPARATOR, Filled, read_scan
from app.records.sources import Field, Source
from app.web.forms.checking import LONGEST, Wrong
from app.web.forms.reading import Offered, ReadForm, read_form

SCAN = "scan"

_SAYS_NOTHING = {
    Source.LABEL: "This code says nothing of lot, use by or product. Write what is printed.",
    Source.WRISTBAND: "This code does not say who the patient is. Write what is printed.",
}
_NOTHING_SCANNED = "Scan the code first. Without one, write what is printed."
_TOO_LONG = f"This is more than {LONGEST} signs: clear it and scan one code."
_THE_SAME = "The scan says the same."


@dataclass(frozen=True, kw_only=True)
class FilledIn:
    """The page after a scan: what a field may say of it, and which of them it filled."""

    form: ReadForm
    scan: str
    fault: str
    filled: tuple[str, ...]


def fields_for_scan(fields: Iterable[Field]) -> frozenset[str]:
    """The names of those of these fields that a scan may fill."""
    return frozenset(field.name for field in fields if field.from_scan)


def fill_in(
    source: Source, fields: tuple[Field, ...], posted: MultiDict[str, str], offered: Offered
) -> FilledIn:
    """Fill in what a scan says; whatever else was typed stays as it is, and is not looked at yet."""
    text, names = posted.get(SCAN, ""), fields_for_scan(fields)
    read = _read(text, offered)
    if not isinstance(read, Fault) and names.isdisjoint(read):
        read = Fault(code=SCAN, says=_SAYS_NOTHING[source])
    if isinstance(read, Fault):
        form = _unjudged(read_form(fields, posted, offered), {})
        wrong = (Wrong(field=SCAN, label="Scan", says=read.says),)
        return FilledIn(form=replace(form, wrong=wrong), scan=_shown(text), fault=read.says, filled=())
    said = {name: value for name, value in read.items() if name in names}
    blank = {name: value for name, value in said.items() if _may_be_filled(posted, name)}
    form = read_form(fields, _filled(posted, blank), offered)
    notes = {name: _beside(posted, name, value) for name, value in said.items() if name not in blank}
    return FilledIn(
        form=_unjudged(form, notes),
        scan="",
        fault="",
        filled=tuple(each.label for each in fields if each.name in blank),
    )


def _read(text: str, offered: Offered) -> Filled | Fault:
    if not text.strip():
        return Fault(code=SCAN, says=_NOTHING_SCANNED)
    if len(text) > LONGEST:
        return Fault(code=SCAN, says=_TOO_LONG)
    return read_scan(text, offered.today)


def _may_be_filled(posted: Mapping[str, str], name: str) -> bool:
    """Blank, or as an earlier scan left it."""
    stands = posted.get(name, "").strip()
    return not posted.get(f"{name}_none") and stands in ("", posted.get(f"{name}_scanned", ""))


def _filled(posted: MultiDict[str, str], values: Filled) -> MultiDict[str, str]:
    filled = posted.copy()
    for name, value in values.items():
        filled[name] = filled[f"{name}_scanned"] = value
    return filled


def _beside(posted: Mapping[str, str], name: str, value: str) -> str:
    if posted.get(name, "").strip() == value:
        return _THE_SAME
    return f"The scan says {value}. What you entered stays: read again what is printed."


def _unjudged(form: ReadForm, notes: Mapping[str, str]) -> ReadForm:
    """Nothing is handed on yet, so nothing is refused yet."""
    inputs = tuple(
        replace(each, fault="", note=notes.get(each.field.name, each.note)) for each in form.inputs
    )
    return replace(form, inputs=inputs, wrong=())


def _shown(text: str) -> str:
    """What was scanned, in signs that a page may hold."""
    return "".join(
        SHOWN_SEPARATOR if sign == SEPARATOR else sign
        for sign in text
        if sign == SEPARATOR or sign.isprintable()
    )
