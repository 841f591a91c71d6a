"""What followed a record has words, whatever happened."""

from typing import Any

from app.records import what_followed
from app.records.events import Event
from app.records.what_followed import Ending
from app.words.followed import ENDINGS, told_words


def test_every_ending_and_every_event_that_is_told_has_words() -> None:
    assert ENDINGS.keys() == set(Ending)
    of_each: tuple[type[Event], ...] = (*what_followed._OF_THE_CHECK, *what_followed._OF_THE_INFUSION)  # noqa: SLF001  # all of them
    empty = dict.fromkeys(
        ("why", "reason", "text", "check_kind", "stop", "scale", "sedation", "respiratory_rate"), ""
    ) | dict.fromkeys(("prescriber", "seal", "holder", "place", "opioids", "of", "bolus"), "x")
    taken = {
        "held_in": "line",
        "way": "wasted",
        "volume": "2.3 mL",
        "syringe": "reading 1",
        "not_witnessed": "",
        "lot": "L1",
        "witness": "Ruth",
        "stated_at": "",
        "before": "12",
        "bed": "13",
        "total_amount": "1.6 mg",
        "total_volume": "none",
        "presses": "",
        "doses": "",
        "left": "",
    }
    data: dict[str, Any] = {
        **empty,
        **taken,
        "received": False,
        "check_kind": "set-up",
        "touched": ["device"],
        "outcome": "",
        "within": 0,
        "same": 0,
        "what": "start",
        "checked_at": "14:10",
        "first": "Nadia",
        "second": "Tomas",
        "rows": [["device", "mode", "Demand only", ""]],
        "corrects": "",
        "transcription": "7",
        "told": [["dose", "0.1 mg"]],
    }
    said = {each.kind: told_words(each.kind, data) for each in of_each}
    assert all(each.endswith(".") for each in said.values()), said
    assert said["next-reading-opened"] == "Device reprogrammed: the two read again."
    for told, said_then in (
        ({"touched": [], "why": "twice", "outcome": ""}, "Nothing was put right: the two read again. twice"),
        (
            {"touched": ["wristband"], "why": "", "outcome": "identity-resolved"},
            "Patient identity resolved: the two read again.",
        ),
    ):
        assert told_words("next-reading-opened", told) == said_then
    ran = "was refused: PCA ran already for this patient, or at this bed."
    assert said["start-refused"] == f"The start {ran}"
    for what, words in (("second-signature", "The second signature"), ("last-look", "A last look")):
        assert told_words("start-refused", {"what": what}) == f"{words} {ran}"
    assert said["drug-taken-back"] == (
        "Drug taken back, written anew: 2.3 mL in its line: wasted, witnessed by Ruth (read first as Nadia). "
        "Lot L1."
    )
    typed = "What was checked on paper by Nadia and Tomas, 14:10 was typed in"
    assert said["paper-transcribed"] == f"{typed}: no check by the program."
    apart = {**data, "rows": [["device", "mode", "Demand only", "Continuous only"]], "corrects": "7"}
    assert told_words("paper-transcribed", apart) == (
        f"{typed}, in the place of entry 7: no check by the program. "
        "The two sheets do not say the same everywhere."
    )
    assert said["paper-confirmed"] == "Held beside the sheets, what was typed in as entry 7 is not the same."
    assert told_words("paper-confirmed", {**data, "same": True}).endswith("entry 7 is the same.")
    assert said["evidence-kept"].endswith(
        "Where they are locked: x. Total given, as mass: 1.6 mg. Total given, as volume: Not shown."
    )
    assert said["device-stopped"] == "The device was stopped."
    assert "outside the protocol; the device shows something else" in said["line-looked"]
    assert told_words("device-stopped", {"why": "line-or-site"}) == "The device was stopped: Line or site."
    good = {**data, "within": True, "same": True, "why": "kink"}
    assert told_words("line-looked", good).endswith("; the device shows what is in force.")
    assert told_words("last-look-taken", good) == "Last look: the device shows what was agreed."
