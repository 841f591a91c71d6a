"""The rows of the table of fields that are read on a label alone, and of the syringe itself."""

from functools import partial

from app.records.measures import VOLUME
from app.records.sources import AskedWhen, Field, Form, JudgedBy, Source

NEW, PART_USED = "new", "part-used"

_of_label = partial(Field, sources=(Source.LABEL,), from_scan=True)
# What a syringe is that takes the place of another: asked where one is changed, and nowhere else.
_of_next = partial(Field, sources=(Source.LABEL,), by_kind=True, read_with=("comes_as", "part_left"))

LABEL_ROWS = (
    _of_label(
        name="lot",
        label="Lot",
        words="the lot number",
        form=Form.TEXT,
        from_one=True,
        judged_by=(JudgedBy.ENGINE, JudgedBy.NONE_IS_AN_ANSWER),
        none="None on the label",
    ),
    _of_label(
        name="use_by",
        label="Use by",
        words="the use-by date",
        form=Form.MOMENT,
        judged_by=(JudgedBy.ENGINE,),
        none="None on the label",
        hint="YYYY-MM-DD, or YYYY-MM; where the label has a time of day, add it after a space.",
    ),
    _of_label(
        name="code",
        label="Code on the label",
        words="the scanned code",
        form=Form.CODE,
        from_one=True,
        judged_by=(JudgedBy.ENGINE,),
        optional=True,
        hint="Only if the label has one. It may be left blank.",
    ),
    _of_next(
        name="comes_as",
        label="This syringe is",
        words="whether the syringe is new or part-used",
        form=Form.CHOICE,
        judged_by=(JudgedBy.READ_ALIKE,),
        choices=(NEW, PART_USED),
        hint="New only with its seal unbroken. Part-used only one that was on for this patient before.",
    ),
    _of_next(
        name="part_left",
        label="Volume left in the part-used syringe",
        words="the volume left in the part-used syringe",
        form=Form.QUANTITY,
        # Two who read one scale may differ by a division.
        judged_by=(JudgedBy.LOADED_AGAIN,),
        measure=VOLUME,
        asked_when=AskedWhen(field="comes_as", among=(PART_USED,), while_blank=False),
        hint="By the scale on the barrel, with your eye level with the plunger's front edge.",
    ),
)
