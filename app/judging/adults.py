"""Whether a patient is an adult: for a child it is another protocol, outside this tool."""

from datetime import date

from app.comparison.moments import completed_years
from app.quantities import Fault


def adult_fault(birth_date: date, on_date: date, site_age: int) -> Fault | None:
    """Why a person born then is too young on a day, where adults are at least `site_age` years old."""
    if completed_years(birth_date, on_date) >= site_age:
        return None
    return Fault(code="not-adult", says="This tool is for adults only: use the children's protocol.")
