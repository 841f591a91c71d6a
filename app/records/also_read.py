"""The rows of the table of fields that are asked where the site's policy says so, for the record.

They decide no dose, and the engine is told of none of them.
"""

from functools import partial

from app.records.sources import Field, Form, JudgedBy, Source

_number = partial(Field, form=Form.TEXT, judged_by=(JudgedBy.READ_ALIKE,), by_policy=True)

ORDER_NUMBER = _number(
    name="order_number",
    label="Order number",
    words="the order number",
    sources=(Source.ORDER,),
    hint="Leave it blank if the order has none.",
)

PRESCRIBER = Field(
    name="prescriber",
    label="Prescriber",
    words="the prescriber",
    sources=(Source.ORDER,),
    form=Form.NAME,
    # One prescriber is written in several ways: with or without a first name, a title, an initial. Two who
    # read the same paper would differ for nothing.
    judged_by=(JudgedBy.NOBODY,),
    optional=True,
    by_policy=True,
    hint="As on the order; compared with nothing.",
)

DEVICE_SERIAL = _number(
    name="device_serial",
    label="Device serial number",
    words="the serial number of the device",
    sources=(Source.DEVICE,),
    hint="As on the device's own plate. Leave it blank if it cannot be read.",
)
