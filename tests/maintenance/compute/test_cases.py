"""Every story of a routine has the turns it must have on its day. The stories name their source."""

from __future__ import annotations

import pytest

from maintenance.compute.schedule import turns
from tests.maintenance.compute.routines import line, on
from tests.maintenance.compute.stories import Story
from tests.maintenance.compute.stories_of_blocks import BLOCKED
from tests.maintenance.compute.stories_of_changes import BEGINNINGS_AND_ENDS, CHANGED_TERMS
from tests.maintenance.compute.stories_of_intervals import FIXED, FLOATING, MONTH_ENDS

STORIES = MONTH_ENDS + FIXED + FLOATING + BLOCKED + BEGINNINGS_AND_ENDS + CHANGED_TERMS


def told(story: Story) -> tuple[str, ...]:
    """Lines of the story's turns as the formula finds them."""
    day = on(story.day)
    return tuple(line(turn, day, story.blocks) for turn in turns(story.facts, day))


@pytest.mark.parametrize("story", STORIES, ids=lambda story: story.name)
def test_every_story_has_its_turns(story: Story) -> None:
    """The whole list is compared, so that a turn too many fails as well."""
    assert told(story) == story.lines
