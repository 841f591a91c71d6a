"""An invented answer to whatever is asked and the scene of a walk, or of a test, says nothing about."""

from collections.abc import Collection, Mapping

from app.records.fields import FIELDS
from app.records.reading import is_asked
from app.records.sources import Field, Form, Source

_BY_FORM = {
    Form.TEXT: "INVENTED-1",
    Form.COUNT: "10",
    Form.CODE: "0109520123456788",
    Form.DATE: "1961-04-09",
    Form.MOMENT: "2099-12-31",
    Form.DRUG: "HYDROmorphone",
    Form.FLUID: "sodium chloride 0.9%",
    Form.PACK: "set-150-y",
    Form.LEVEL: "0: awake (site sedation scale 0 to 3)",
}


def invented(field: Field) -> str:
    """An answer that the form of the field takes."""
    if field.form is Form.QUANTITY:
        return f"10 {field.units[0]}"
    return field.choices[0] if field.choices else _BY_FORM[field.form]


def completed(source: Source, answers: Mapping[str, str], also_reads: Collection[str] = ()) -> dict[str, str]:
    """One source's answers, with an invented one to whatever else is asked everywhere, or by this kind."""
    asked = (
        each
        for each in FIELDS[source]
        if is_asked(each, answers) and not each.by_policy and (not each.by_kind or each.name in also_reads)
    )
    return {**{each.name: invented(each) for each in asked}, **answers}
