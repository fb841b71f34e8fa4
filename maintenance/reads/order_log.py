"""The log of a work order or routine, told from the history in sentences, newest first."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Model
from django.utils import timezone

from assets.compute.words import count_of, day_named, moment_named
from assets.models import Event

LINES = 100


@dataclass(frozen=True, slots=True)
class LogLine:
    """One thing that happened; `entered_at` when it was written down clearly later."""

    at: dt.datetime
    who: str
    sentence: str
    entered_at: dt.datetime | None
    refused: bool


Facts = Mapping[str, Any]
LATE = dt.timedelta(minutes=15)


def _raised(facts: Facts) -> str:
    origin = f", {facts['origin']}" if facts.get("origin") else ""
    doubt = ", not yet confirmed" if facts.get("confirmed") == "not yet confirmed" else ""
    return f"raised it{origin}{doubt}: {facts['reason']}{_with(facts)}"


def _with(facts: Facts) -> str:
    names = ", ".join(file["name"] for file in facts.get("files", ()))
    return f" (with {names})" if names else ""


def _day(iso: str) -> str:
    """Day of the history in the words of the screen: 25 November 2026."""
    return day_named(dt.date.fromisoformat(iso[:10]))


def _planned(facts: Facts) -> str:
    by = f", wanted by {_day(facts['wanted_by'])}" if facts.get("wanted_by") else ""
    return f"planned it: {facts['in_charge']} in charge{by}"


def _step_done(facts: Facts) -> str:
    value = f", {facts['value']}" if facts.get("value") else ""
    outside = f"; outside its limits: {facts['answer']}" if facts.get("answer") else ""
    note = f": {facts['note']}" if facts["note"] else ""
    return f"did step {facts['number']}, {facts['text']}{value}{outside}{note}"


def _cost(facts: Facts) -> str:
    was = f"; {facts['was']} was written before" if facts.get("was") else ""
    return f"wrote that {facts['amount']} was paid: {facts['what']}{was}"


def _time(facts: Facts) -> str:
    whose = "" if facts.get("own") else f" of {facts['who']}"
    what = f": {facts['what']}" if facts["what"] else ""
    return f"wrote {facts['minutes']} minutes{whose}{what}"


def _of(facts: Facts) -> str:
    unit = "pieces" if facts["unit"] == "piece" and facts["amount"] != "1" else facts["unit"]
    return f"{facts['amount']} {unit} of {facts['part']}"


def _why(facts: Facts) -> str:
    return f": {facts['because']}" if facts.get("because") else ""


def _performed(facts: Facts) -> str:
    if not facts["counts"]:
        return f"recorded work that does not count: {facts['because']}"
    return f"recorded it as done: {facts['source']}"


def _moment(iso: str) -> str:
    """Moment of the history on the clock of the site whose page it is."""
    return moment_named(timezone.localtime(dt.datetime.fromisoformat(iso)))


def _extension(facts: Facts) -> str:
    until = _moment(facts["until"])
    return f"granted more time, until {until}" if facts["granted"] else f"refused more time: {facts['because']}"


def _looked(facts: Facts) -> str:
    did = f"; it does not agree: {facts['did']}" if not facts["agrees"] else ""
    return f"held it against {facts['from']}: {facts['value']}{did}"


SENTENCES: dict[str, Callable[[Facts], str]] = {
    "order.raised": _raised,
    "order.asked_again": lambda f: f"asked for it again: {f.get('reason', '')}{_with(f)}",
    "order.asked_for": lambda f: f"asked for it: {f['reason']}{_with(f)}",
    "order.confirmed": lambda f: f"confirmed the failure: {f['because']}",
    "order.doubted": lambda f: f"found no failure after the work had begun: {f['because']}",
    "order.planned": _planned,
    "order.started": lambda _: "started the work",
    "order.waiting": lambda f: f"set it to waiting: {f['for']}",
    "order.resumed": lambda f: f"went on with it; it had waited for {f['waited_for']}",
    "order.done": lambda f: f"recorded it as done: {f['found']}",
    "order.accepted": lambda _: "accepted it",
    "order.sent_back": lambda f: f"sent it back: {f['because']}",
    "order.withdrawn": lambda f: f"withdrew it: {f['because']}",
    "order.step_added": lambda f: f"added step {f['number']}: {f['text']}",
    "order.steps_added": lambda f: f"added {count_of(len(f['steps']), 'step')}",
    "order.step_done": _step_done,
    "order.failure_corrected": lambda f: f"described the failure anew: {f['failure'].lower()}",
    "order.time_written": _time,
    "order.time_corrected": lambda f: f"corrected the time of {f['who']} from {f['was']} to {f['minutes']} minutes",
    "order.cost_written": _cost,
    "order.checks_asked": lambda f: f"asked for a record before it is accepted: {'; '.join(f['checks'])}",
    "order.check_taken_back": lambda f: f"took back that it needs a record of {f['check']}: {f['because']}",
    "order.files_added": lambda f: f"added {', '.join(file['name'] for file in f['files'])}",
    "order.part_needed": lambda f: f"said that it needs {_of(f)}",
    "order.part_used": lambda f: f"used {_of(f)}",
    "order.part_put_back": lambda f: f"put back {_of(f)}",
    "part.registered": lambda f: f"registered it, counted in {f['unit']}",
    "part.changed": lambda _: "changed what is written of it",
    "part.retired": lambda f: f"keeps it no longer: {f['because']}",
    "part.received": lambda f: f"received {f['amount']}{', last day ' + _day(f['expires']) if f['expires'] else ''}",
    "part.counted": lambda f: f"counted {f['counted']}, before {f['before']}{_why(f)}",
    "part.scrapped": lambda f: f"threw away {f['amount']}{_why(f)}",
    "template.registered": lambda f: f"wrote it, with {count_of(len(f['steps']), 'step')}",
    "template.changed": lambda _: "changed its head",
    "template.retired": lambda f: f"offers it no longer: {f['because']}",
    "template.step_added": lambda f: f"added a step: {f['text']}",
    "template.step_taken_out": lambda f: f"took a step out: {f['text']}",
    "template.part_added": lambda f: f"added a part: {_of(f)}",
    "template.part_taken_out": lambda f: f"took a part out: {f['part']}",
    "routine.registered": lambda f: f"registered it, {f['interval']}; source: {f['source']}",
    "routine.term_changed": lambda f: f"changed it from {_day(f['from'])} to {f['interval']}: {f['why']}",
    "routine.retired": lambda f: f"retired it: {f['because']}",
    "performance.recorded": _performed,
    "performance.corrected": lambda f: f"corrected a record; {_performed(f)}",
    "override.asked": lambda f: f"wrote it down, until {_moment(f['until'])}: {f['because']}",
    "override.approved": lambda f: f"approved it, until {_moment(f['until'])}",
    "override.refused": lambda f: f"refused it: {f['because']}",
    "override.put_on": lambda f: f"put it on, until {_moment(f['until'])}",
    "override.extension_asked": lambda f: f"asked for more time, until {_moment(f['until'])}: {f['because']}",
    "override.extension_decided": _extension,
    "override.looked_at": _looked,
    "override.taken_over": lambda f: f"took it over from {f['from']}",
    "override.taken_off": lambda f: f"took it off{': ' + f['words'] if f['words'] else ''}",
    "override.seen_restored": lambda f: f"saw that it works again: {f['saw']}",
    "override.not_restored": lambda f: f"saw that it does not work yet: {f['saw']}",
    "refused": lambda f: f"was refused: {' '.join(f['reasons'])}",
}


def log_of(subject: Model) -> tuple[LogLine, ...]:
    """What happened to one record, newest first."""
    return tuple(_line(event) for event in Event.objects.about(subject).select_related("by")[:LINES])


def _line(event: Event) -> LogLine:
    facts = json.loads(event.body)["facts"]
    told = SENTENCES.get(event.verb)
    late = event.recorded_at - event.happened_at > LATE
    return LogLine(
        at=event.happened_at,
        who=event.by.name if event.by else "The tool",
        sentence=told(facts) if told else event.verb.replace(".", " ").replace("_", " "),
        entered_at=event.recorded_at if late else None,
        refused=event.verb == "refused",
    )
