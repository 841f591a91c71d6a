"""Text typed by a person -> an exact amount with a unit, and amounts -> the one way of writing them."""

from app.quantities.amounts import Quantity, exact, for_people, set_off, show, show_in, show_number, show_time
from app.quantities.counts import parse_count
from app.quantities.dates import DateOrder, parse_date, show_date
from app.quantities.faults import Fault, FaultCode
from app.quantities.naming import LONGEST_NAME, LONGEST_NUMBER, read_name, read_printed_number
from app.quantities.parsing import Range, parse_one_of_two, parse_quantity
from app.quantities.units import Dimension, units_of

__all__ = [
    "LONGEST_NAME",
    "LONGEST_NUMBER",
    "DateOrder",
    "Dimension",
    "Fault",
    "FaultCode",
    "Quantity",
    "Range",
    "exact",
    "for_people",
    "parse_count",
    "parse_date",
    "parse_one_of_two",
    "parse_quantity",
    "read_name",
    "read_printed_number",
    "set_off",
    "show",
    "show_date",
    "show_in",
    "show_number",
    "show_time",
    "units_of",
]
