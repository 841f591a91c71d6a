"""`LIFE.md` is drawn from the tables of `life.py`; when this fails, put the printed text into the page."""

from app.config import root
from app.records.life import FOLLOWS, WHEN, Action
from app.records.state import Phase

BEGIN, END = "<!-- drawn from life.py -->\n", "<!-- end -->"


def drawn() -> str:
    lines = ["| phase | what may be done | what follows |", "| --- | --- | --- |"]
    for phase in Phase:
        done = "; ".join(action.value for action in Action if phase in WHEN[action])
        follows = "; ".join(f"**{then.value}**: {why}" for then, why in FOLLOWS[phase].items()) or "nothing"
        lines.append(f"| **{phase.value}** | {done} | {follows} |")
    return "\n".join(lines) + "\n"


def test_the_page_shows_the_tables() -> None:
    page = (root() / "app" / "records" / "LIFE.md").read_text(encoding="utf-8")

    assert page.partition(BEGIN)[2].partition(END)[0] == drawn()
