"""What is typed at the safety steps waits for its author, counts for nothing, and is gone once it is said."""

import pytest

from app.keys import CONTENT_AT_MOST
from app.records.kept import STEPS_TYPING
from app.records.state import Phase
from app.workflow.looking import Seen, see_check
from app.workflow.refusals import NotNow, NotYours
from app.workflow.step_typing import (
    TypedBefore,
    TypingKept,
    TypingNotKept,
    keep_step_typing,
    typed_before,
)
from tests.story.people import NADIA, RUTH, TOMAS, Somebody
from tests.story.ward import Ward

TYPED = {"sedation": "1", "respiratory_rate": "1", "spo2": "", "volume": "2."}


def types(ward: Ward, who: Somebody, **typed: str) -> object:
    return keep_step_typing(ward.site, ward.act(who), ward.check, typed)


def finds(ward: Ward, who: Somebody) -> TypedBefore:
    act = ward.act(who)
    seen = see_check(ward.site, act, ward.check)
    assert isinstance(seen, Seen)
    return typed_before(ward.site, act, seen)


def drafts(ward: Ward) -> int:
    with ward.site.store.read() as reader:
        return len([each for each in reader.rows("draft") if each["subject"] == STEPS_TYPING])


def test_it_waits_for_its_author_alone_right_or_wrong(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)
    assert types(ward, NADIA, **TYPED) == TypingKept()
    typed_at = ward.now

    assert finds(ward, NADIA) == TypedBefore(at=typed_at, fields={k: v for k, v in TYPED.items() if v})
    assert finds(ward, TOMAS) == TypedBefore()
    # Neither said nor logged.
    assert (ward.state().baseline, ward.state().priming_handed_in) == (None, frozenset())
    # Cleared again, it is gone.
    types(ward, NADIA, volume="")
    assert (finds(ward, NADIA), drafts(ward)) == (TypedBefore(), 0)


def test_once_it_is_said_it_is_forgotten(ward: Ward) -> None:
    ward.at_stage(Phase.STEPS)
    types(ward, ward.holder(1), **TYPED)
    ward.observes()

    assert (finds(ward, ward.holder(1)), drafts(ward)) == (TypedBefore(), 0)


def test_what_was_observed_before_the_device_was_stopped_does_not_come_back(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)
    types(one_ward, NADIA, **TYPED)
    one_ward.stops(RUTH, why="sedation-or-breathing")

    assert dict(finds(one_ward, NADIA).fields) == {"volume": "2."}
    types(one_ward, NADIA, **TYPED)
    assert finds(one_ward, NADIA).fields["sedation"] == "1"


@pytest.mark.parametrize("phase", [Phase.SIGNING, Phase.STARTED])
def test_where_nothing_is_asked_nothing_is_kept(one_ward: Ward, phase: Phase) -> None:
    one_ward.at_stage(phase)

    assert types(one_ward, NADIA, **TYPED) == NotNow(phase=phase)


def test_nobody_elses_typing_and_no_flood_is_kept(one_ward: Ward) -> None:
    one_ward.at_stage(Phase.STEPS)

    assert types(one_ward, RUTH, **TYPED) == NotYours()
    assert types(one_ward, NADIA, volume="9" * CONTENT_AT_MOST) == TypingNotKept()
    assert drafts(one_ward) == 0
