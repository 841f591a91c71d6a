"""`LIFE.md` is drawn from the life of each kind; when this fails, put the printed text into the page."""

from app.config import root
from app.records.kinds import KINDS
from app.records.life import LIVES, Action
from app.records.state import Phase

BEGIN, END = "<!-- drawn from life.py -->\n", "<!-- end -->"


def drawn() -> str:
    lines: list[str] = []
    for kind in KINDS.values():
        life = LIVES[kind.name]
        lines += [
            "",
            f"## {kind.words}",
            "",
            "| phase | what may be done | what follows |",
            "| --- | --- | --- |",
        ]
        for phase in Phase:
            if phase not in life.follows:
                continue
            done = "; ".join(action.value for action in Action if phase in life.when.get(action, ()))
            then = life.follows[phase].items()
            follows = "; ".join(f"**{after.value}**: {why}" for after, why in then) or "nothing"
            lines.append(f"| **{phase.value}** | {done} | {follows} |")
    return "\n".join(lines) + "\n"


def test_the_page_shows_the_tables() -> None:
    page = (root() / "app" / "records" / "LIFE.md").read_text(encoding="utf-8")

    assert page.partition(BEGIN)[2].partition(END)[0] == drawn()
