"""The log of a lockout in sentences, in the order of its numbers, with both times where they differ."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from maintenance.compute.lockout import Note, Story

LATE_AFTER = dt.timedelta(minutes=15)
NOT_PROVEN = "Entered, presence not proven."


@dataclass(frozen=True, slots=True)
class Line:
    """One line: when it happened, when it was entered, who, what; `late` when entered clearly later."""

    number: int
    at: dt.datetime
    entered_at: dt.datetime
    who: str
    text: str

    @property
    def late(self) -> bool:
        """Whether it was entered more than 15 minutes after it happened."""
        return self.entered_at - self.at > LATE_AFTER


def log(story: Story) -> tuple[Line, ...]:
    """Tell everything recorded of a lockout, oldest first."""
    lines = [_told(story, note) for note in story.notes]
    for h in story.hung:
        entered = h.recorded_at or h.on_at
        lines.append(Line(h.number, h.on_at, entered, h.owner.name, f"Lock {h.lock} on {h.place}. {NOT_PROVEN}"))
        if h.key_in is not None:
            lines.append(Line(h.key_in, entered, entered, h.owner.name, f"Key of lock {h.lock} in {story.box}."))
        if h.off_number is not None and h.off_at is not None:
            text = f"Lock {h.lock} off {h.place}. {NOT_PROVEN}"
            lines.append(Line(h.off_number, h.off_at, h.off_at, h.owner.name, text))
    return tuple(sorted(lines, key=lambda line: line.number))


def _told(story: Story, note: Note) -> Line:
    return Line(note.number, note.at, note.recorded_at, note.by.name, _sentence(story, note))


def _sentence(story: Story, note: Note) -> str:
    source = next((str(s) for s in story.sources if s.id == note.source_id), "")
    said = {
        "told before": f"Told {note.topic} that locks go on: {note.text}.",
        "told after": f"Told {note.topic} that the locks are off: {note.text}.",
        "shut down": f"Shut down. {note.text}",
        "selector found": f"Selector found at {note.text}.",
        "point set": f"{source}: set to {note.text}.",
        "relieved": f"{source}: stored energy let off. {note.text}",
        "box closed": f"{story.box} closed over the keys.",
        "tested": f"{source}: tested with {note.tester}, read {note.text}.",
        "fits": f"Procedure fits what is fitted: {note.answer}. {note.text}",
        "answered": f"{note.topic}: {note.answer}.",
        "point added": f"Point added: {note.text}.",
        "point released": f"{source}: its recorded state no longer counts, since {note.text}.",
        "test run asked": f"Asked for a test run: {note.text}.",
        "test run begun": f"Test run begun, for {note.topic} minutes.",
        "test run ended": f"Test run ended: {note.text}.",
        "in charge": f"Took charge, {note.text}.",
        "closed": f"Lockout closed{f', {note.text}' if note.text else ''}.",
        "acceptance": f"{note.topic}: {note.text}.",
        "available": f"Took {story.tag} back into operation.",
    }
    text = said[note.kind].strip()
    return text[0].upper() + text[1:]
