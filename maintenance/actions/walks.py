"""The walk: begun, written point by point, ended. Of two answers at one point the first counts; the other is kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from django.db.models import Max

from assets import history
from assets.actions.readings import CounterBroken, ReadingFacts, add_reading, correct_reading
from assets.compute.numbers import kept_number
from assets.compute.words import day_named
from assets.errors import Reason, Refusal
from assets.history import UPKEEP, Act
from assets.models import Face, Person, Position, Reading, Site
from assets.permissions import OPERATORS, must_have_role
from maintenance.actions.orders import raise_work_order
from maintenance.actions.performances import record_performance
from maintenance.compute.walk import (
    EXCHANGED,
    FELL,
    READING,
    Answered,
    as_answered,
    as_entered,
    as_text,
    drawn,
    undone_said,
)
from maintenance.models import LineKind, PointLine, Round, StopAnswer, Walk, WalkEntry, WalkStop, WorkOrder

LONGEST_WAIT = dt.timedelta(days=7)
NOTHING_DONE = "no check point was done"


@dataclass(frozen=True, slots=True, kw_only=True)
class LineTyped:
    """What was typed at one line: a number (a drawdown: mL and seconds), or good or not, or why it could not be read.

    first_typed: the number before a second look; asked: what was asked about it, answered or not; order: the kind of
    the work order that is wanted, '' for none.
    """

    line: PointLine
    typed: str = ""
    seconds: str = ""
    first_typed: str = ""
    good: bool | None = None
    words: str = ""
    could_not: str = ""
    asked: tuple[Answered, ...] = ()
    broken: CounterBroken | None = None
    order: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StopTyped:
    """What was typed at one check point. `waited`: how long it lay on a phone before it arrived."""

    outcome: str
    because: str = ""
    note: str = ""
    lines: tuple[LineTyped, ...] = ()
    waited: dt.timedelta = dt.timedelta(0)


def begin_walk(*, round: Round, by: Person) -> Walk:
    """Begin a walk of a round, or go on with the one that is being walked today; it keeps what it is asked now."""
    site = round.site
    must_have_role(by, site, OPERATORS, to="walk a round")
    with history.act(site=site, by=by) as act:
        history.lock_site(UPKEEP, site)
        there = Walk.objects.open().filter(round=round).first()
        if there is not None and _day(site, there.begun_at) == _day(site, act.at):
            return there
        if there is not None:
            begun = day_named(_day(site, there.begun_at))
            raise Refusal(f"{str(there).capitalize()} of {begun} was never ended; end it first.")
        points = list(round.points.standing().select_related("position"))
        if not points or round.retired_at is not None:
            raise Refusal(f"{round.name} has no check point to walk to; a supervisor adds them.")
        newest = Walk.objects.filter(site=site).aggregate(newest=Max("number"))["newest"]
        walk = act.add(Walk(site=site, number=int(newest or 0) + 1, round=round, begun_at=act.at, begun_by=by))
        act.add_all(
            [
                WalkStop(
                    walk=walk, number=n, point=point, position=point.position, name=point.name, caution=point.caution
                )
                for n, point in enumerate(points, 1)
            ]
        )
        act.write("walk.begun", subject=walk, facts={"round": round.name, "check points": len(points)})
    return walk


def _day(site: Site, moment: dt.datetime) -> dt.date:
    return moment.astimezone(site.zone).date()


def write_stop(*, stop: WalkStop, typed: StopTyped, key: str, by: Person, shown: int | None = None) -> StopAnswer:
    """Write what was found at a check point; the same key again gives the answer of the first time.

    shown: the answer that stood on the page when this was typed. Where another one stands by now, both are kept: the
    first counts, this one stands beside it, as typed, and becomes no reading.
    """
    walk = stop.walk
    must_have_role(by, walk.site, OPERATORS, to="write on the walk")
    with history.act(site=walk.site, by=by) as act:
        history.lock_site(UPKEEP, walk.site)
        same = StopAnswer.objects.filter(key=key).first()
        if same is not None:
            return same
        written_at = _written_at(Walk.objects.get(pk=walk.pk), act.at, typed.waited)
        now = StopAnswer.objects.counting().filter(stop=stop).first()
        second = now is not None and now.pk != shown
        answer = act.add(
            StopAnswer(
                stop=stop,
                outcome=typed.outcome,
                because=typed.because.strip(),
                note=typed.note.strip(),
                written_at=written_at,
                written_by=by,
                recorded_at=act.at,
                recorded_by=by,
                key=key,
                replaces=None if second else now,
                beside=now if second else None,
            )
        )
        made = [_entry(act, answer, one, written_at, counts=not second) for one in typed.lines]
        act.add_all([entry for entry, _ in made])
        told = [said for _, said in made]
        act.write(
            "walk.point_written",
            subject=walk,
            happened_at=written_at,
            facts={"point": f"{stop.number} {stop.name}", "outcome": typed.outcome, "second": second, "lines": told},
        )
    return answer


def _written_at(walk: Walk, arrived: dt.datetime, waited: dt.timedelta) -> dt.datetime:
    if not dt.timedelta(0) <= waited <= LONGEST_WAIT:
        raise Refusal("The clock of this phone was changed meanwhile; write the check point again.")
    written = max(arrived - waited, walk.begun_at)
    # What lay on another phone when the walk was ended still belongs to it.
    if walk.ended_at is not None and written > walk.ended_at:
        raise Refusal(f"{str(walk).capitalize()} has ended; begin a new one.")
    return written


def _entry(
    act: Act, answer: StopAnswer, typed: LineTyped, written_at: dt.datetime, *, counts: bool
) -> tuple[WalkEntry, str]:
    """Make one line of an answer, to be added, and say it; where it counts, add its reading and its work order."""
    line, site = typed.line, answer.stop.walk.site
    drawdown = line.kind == LineKind.DRAWDOWN and typed.typed
    text = f"{typed.typed} mL in {typed.seconds} s" if drawdown else typed.typed
    reading = _read(act, answer, typed, written_at) if counts and typed.typed else None
    if counts:
        _put_right(answer, typed)
    order = _raised(site, answer, typed, reading, by=answer.written_by) if counts and typed.order else None
    entry = WalkEntry(
        answer=answer,
        line=line,
        typed=text,
        first_typed=typed.first_typed if typed.first_typed != typed.typed else "",
        good=typed.good,
        words=typed.words.strip(),
        could_not=typed.could_not.strip(),
        asked=as_text(typed.asked),
        wants=typed.order,
        reading=reading,
        order=order,
    )
    return entry, f"{line.what}: {_told(typed, text)}"


def _put_right(answer: StopAnswer, typed: LineTyped) -> None:
    """Give the machine with which this one was exchanged, at an earlier check point, what was typed here.

    Its moment stays: the two were read some minutes apart.
    """
    told = next((one for one in typed.asked if one.key == EXCHANGED), None)
    pk = told.numbers.get(READING) if told is not None else None
    if pk is None:
        return
    other = Reading.objects.standing().filter(site=answer.stop.walk.site, pk=pk).select_related("position").first()
    if other is None:
        what = (
            f"{typed.line.what}: the number that this was exchanged with was corrected meanwhile; look at both again."
        )
        raise Refusal(what, field=f"v{typed.line.pk}")
    facts = ReadingFacts(
        what=other.what,
        entered=typed.first_typed,
        unit=other.unit,
        face=other.face,
        taken_at=other.taken_at,
        source=f"{answer.stop.walk}, exchanged with check point {answer.stop.number}",
    )
    correct_reading(reading=other, facts=facts, by=answer.recorded_by)


def _told(typed: LineTyped, text: str) -> str:
    if typed.could_not:
        return f"could not be read, because {typed.could_not}"
    if typed.good is None:
        return f"{text} {typed.line.unit}".strip() if typed.line.kind != LineKind.DRAWDOWN else text
    return "good" if typed.good else f"not good, because {typed.words}"


def _read(act: Act, answer: StopAnswer, typed: LineTyped, written_at: dt.datetime) -> Reading:
    """Keep a number of the walk as a reading, as typed; a drawdown as what was worked out from it."""
    line = typed.line
    assert line.position is not None
    entered, face = typed.typed, line.face
    if line.kind == LineKind.DRAWDOWN:
        entered, face = _drawn_of(typed), Face.COMPUTED
    facts = ReadingFacts(
        what=line.what,
        entered=entered,
        unit=line.unit,
        face=face,
        taken_at=written_at,
        source=f"{answer.stop.walk}, check point {answer.stop.number}",
        broken=typed.broken,
    )
    try:
        return add_reading(act, of=line.position, facts=facts)
    except Refusal as refusal:
        raise Refusal(Reason(f"{line.what}: {one.sentence}", f"v{line.pk}") for one in refusal.reasons) from refusal


def _drawn_of(typed: LineTyped) -> str:
    volume, seconds = (kept_number(text) or Fraction(0) for text in (typed.typed, typed.seconds))
    try:
        return as_entered(drawn(volume, seconds))
    except ValueError as wrong:
        raise Refusal(str(wrong), field=f"s{typed.line.pk}") from wrong


def _raised(site: Site, answer: StopAnswer, typed: LineTyped, reading: Reading | None, *, by: Person) -> WorkOrder:
    line, stop = typed.line, answer.stop
    position: Position | None = line.position or stop.position
    if position is None:
        raise Refusal("A work order names a tag, and this check point has none; tell the supervisor.")
    shown = str(reading) if reading is not None else f"{line.what}: {typed.words or typed.could_not}"
    why = [one.head for one in typed.asked if one.key.startswith("limit")]
    reason = ". ".join(text for text in (shown, *why, typed.words) if text)
    return raise_work_order(
        site=site,
        position=position,
        title=(f"{shown}; {why[0]}" if why else shown)[:140],
        reason=reason,
        type=typed.order,
        origin_label=f"Walk {stop.walk.number}, check point {stop.number}",
        origin_path=stop.get_absolute_url(),
        origin_key=f"walk {answer.key[:40]} {line.pk}",
        by=by,
    )


def take_second(*, second: StopAnswer, by: Person, shown: int | None = None) -> StopAnswer:
    """Let what came second count instead of what came first; the numbers become readings of when they were written."""
    stop, site = second.stop, second.stop.walk.site
    must_have_role(by, site, OPERATORS, to="write on the walk")
    with history.act(site=site, by=by) as act:
        history.lock_site(UPKEEP, site)
        if second.beside_id is None or StopAnswer.objects.filter(taken_from=second).exists():
            raise Refusal("This counts already.")
        now = StopAnswer.objects.counting().get(stop=stop)
        if shown is not None and now.pk != shown:
            raise Refusal("Another answer counts by now; look at it and choose anew.")
        answer = act.add(
            StopAnswer(
                stop=stop,
                outcome=second.outcome,
                because=second.because,
                note=second.note,
                written_at=second.written_at,
                written_by=second.written_by,
                recorded_at=act.at,
                recorded_by=by,
                key=f"second {second.pk}",
                replaces=now,
                taken_from=second,
            )
        )
        again = [_typed_again(entry) for entry in second.entries.select_related("line__position")]
        act.add_all([_entry(act, answer, one, second.written_at, counts=True)[0] for one in again])
        act.write("walk.second_taken", subject=stop.walk, facts={"point": f"{stop.number} {stop.name}"})
    return answer


def _typed_again(entry: WalkEntry) -> LineTyped:
    typed, _, seconds = entry.typed.removesuffix(" s").partition(" mL in ")
    made = LineTyped(line=entry.line, typed=typed, good=entry.good, words=entry.words, could_not=entry.could_not)
    asked = as_answered(entry.asked)
    return replace(
        made,
        seconds=seconds,
        first_typed=entry.first_typed,
        order=entry.wants,
        asked=asked,
        broken=next((CounterBroken(**one.numbers) for one in asked if one.key == FELL and one.numbers), None),
    )


def end_walk(*, walk: Walk, by: Person, waited: dt.timedelta = dt.timedelta(0)) -> Walk:
    """End a walk: what was left undone is named, and the routine that the round belongs to is fulfilled."""
    site = walk.site
    must_have_role(by, site, OPERATORS, to="end a walk")
    with history.act(site=site, by=by) as act:
        history.lock_site(UPKEEP, site)
        now = Walk.objects.get(pk=walk.pk)
        if now.ended_at is not None:
            raise Refusal(f"{str(walk).capitalize()} was ended already.")
        ended_at = _written_at(now, act.at, waited)
        undone, of = _undone(walk)
        said = undone_said(undone, of)
        act.close(now, ended_at=ended_at, ended_by=by, ended_recorded_at=act.at, left_undone=said)
        facts = {"round": walk.round.name, "left undone": undone, "of": of}
        act.write("walk.ended", subject=now, happened_at=ended_at, facts=facts)
        if walk.round.plan is not None:
            done = len(undone) < of
            record_performance(
                plan=walk.round.plan,
                key=f"walk {walk.pk}",
                performed_at=ended_at,
                counts=done,
                because="" if done else NOTHING_DONE,
                asset=None,
                source_label=f"Walk {walk.number}. {said}"[:160],
                source_path=walk.get_absolute_url(),
                by=by,
            )
    return now


def _undone(walk: Walk) -> tuple[Sequence[str], int]:
    done = set(StopAnswer.objects.counting().filter(stop__walk=walk).values_list("stop", flat=True))
    stops = list(walk.stops.all())
    return [stop.name for stop in stops if stop.pk not in done], len(stops)
