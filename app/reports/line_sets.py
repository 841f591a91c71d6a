"""A record with its line sets in words: the keys of the site's list are for data alone."""

from collections.abc import Mapping
from typing import Any

PACK = "pack"


def in_words(document: Mapping[str, Any]) -> dict[str, Any]:
    """The record as people read it: each key of a line set is what the site calls it."""
    words = document.get("line_sets", {})
    return {**document, "rounds": [_round(each, words) for each in document["rounds"]]}


def _round(each: Mapping[str, Any], words: Mapping[str, str]) -> dict[str, Any]:
    if "comparison" not in each:
        return dict(each)
    told = each["comparison"]
    return {
        **each,
        "readings": {letter: _answers(said, words) for letter, said in each["readings"].items()},
        "comparison": {**told, "findings": [_finding(found, words) for found in told["findings"]]},
    }


def _answers(said: Mapping[str, Any], words: Mapping[str, str]) -> dict[str, Any]:
    device = said.get("device", {})
    if PACK not in device:
        return dict(said)
    return {**said, "device": {**device, PACK: words.get(device[PACK], device[PACK])}}


def _finding(found: Mapping[str, Any], words: Mapping[str, str]) -> dict[str, Any]:
    if found["field"] != PACK:
        return dict(found)
    readings = {name: words.get(text or "", text) for name, text in found["readings"].items()}
    return {**found, "readings": readings}
