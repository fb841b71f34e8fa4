"""The walks: which round comes next, the last walks, and one walk with everything that was written on it."""

from __future__ import annotations

import datetime as dt
import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from django.db.models import Count, Exists, OuterRef, Q, QuerySet
from django.urls import reverse

from assets.compute.numbers import read_number
from assets.compute.readings.facts import about
from assets.compute.rounding import as_typed
from assets.compute.words import count_of
from assets.models import Site
from assets.permissions import OPERATORS, SUPERVISORS, Desk
from maintenance.compute.walk import asked_on, days_said
from maintenance.models import LineKind, Plan, Round, StopAnswer, Walk, WalkEntry, WalkStop
from maintenance.reads.due_words import Shown
from maintenance.reads.walks_stop import StopMark

SHAPES = {"read": Shown("Done", "yes"), "not running": Shown("Not running", "waiting")}
COULD_NOT = Shown("Could not", "waiting")


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundNow:
    """A round as it stands today: when it is asked, how many check points, the walk of it that is open or was ended."""

    round: Round
    points: int
    asked: str
    open: Walk | None
    ended_today: Walk | None
    asked_today: bool
    left: int

    @property
    def to_do(self) -> bool:
        """Whether today still asks it."""
        return self.open is not None or (self.asked_today and self.ended_today is None)

    @property
    def says(self) -> str:
        """How many check points, in words."""
        return count_of(self.points, "check point")


def has_rounds(site: Site) -> bool:
    """Whether a site has a round that is walked."""
    return Round.objects.at(site).standing().exists()


def is_walked(plan: Plan) -> bool:
    """Whether a routine is fulfilled by the end of a walk."""
    return Round.objects.standing().filter(plan=plan).exists()


def rounds_now(site: Site, now: dt.datetime) -> tuple[RoundNow, ...]:
    """Return the rounds of a site as they stand at a moment, those to be walked first."""
    here = now.astimezone(site.zone)
    rounds = list(
        Round.objects.at(site)
        .standing()
        .annotate(number_of_points=Count("points", filter=Q(points__retired_at__isnull=True)))
    )
    begin = here.replace(hour=0, minute=0, second=0, microsecond=0)
    walks = (
        Walk.objects.filter(round__in=rounds)
        .filter(Q(ended_at__isnull=True) | Q(ended_at__gte=begin))
        .select_related("begun_by", "ended_by", "round")
        .annotate(left=_left())
        .order_by("number")
    )
    of_round: dict[int, list[Walk]] = defaultdict(list)
    for walk in walks:
        of_round[walk.round_id].append(walk)
    found = [_round_now(one, of_round[one.pk], here) for one in rounds]
    return tuple(sorted(found, key=lambda one: (not one.to_do, one.open is None)))


def _round_now(one: Round, walks: Sequence[Walk], here: dt.datetime) -> RoundNow:
    open_walk = next((walk for walk in walks if walk.ended_at is None), None)
    ended = [walk for walk in walks if walk.ended_at is not None]
    return RoundNow(
        round=one,
        points=one.number_of_points,  # type: ignore[attr-defined]
        asked=f"{days_said(one.days)}, from {one.asked_from}",
        open=open_walk,
        ended_today=ended[-1] if ended else None,
        asked_today=asked_on(one.days, here.date()),
        left=open_walk.left if open_walk is not None else one.number_of_points,  # type: ignore[attr-defined]
    )


def _left() -> Count:
    return Count("stops", filter=~Exists(_counting(OuterRef("stops__pk"))), distinct=True)


def _counting(stop: OuterRef) -> QuerySet[StopAnswer]:
    return StopAnswer.objects.filter(stop=stop, beside__isnull=True)


@dataclass(frozen=True, slots=True)
class WalkPanel:
    """The walk that comes next, for the page of the day; `may_begin`: no round is written yet, and the person may."""

    next: RoundNow | None
    may_begin: bool


def today_panel(desk: Desk, now: dt.datetime) -> WalkPanel:
    """Return the walk that comes next today, None where no round is left to be walked."""
    rounds = rounds_now(desk.site, now)
    left = [one for one in rounds if one.to_do and (one.points or one.open)]
    return WalkPanel(left[0] if left else None, not rounds and desk.may(SUPERVISORS))


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkRow:
    """One walk as the list shows it."""

    walk: Walk
    of: int
    done: int
    odd: int
    second: int

    @property
    def shown(self) -> Shown:
        """Where it stands."""
        if self.walk.ended_at is None:
            return Shown("Under way", "underway")
        return Shown("Ended", "done") if self.done == self.of else Shown("Ended, not whole", "waiting")


@dataclass(frozen=True, slots=True, kw_only=True)
class WalksPage:
    """The page of the walks."""

    rounds: tuple[RoundNow, ...]
    may_walk: bool
    may_keep: bool


def walks_page(desk: Desk, now: dt.datetime) -> WalksPage:
    """Return the rounds as they stand; the walks stand below them."""
    return WalksPage(rounds=rounds_now(desk.site, now), may_walk=desk.may(OPERATORS), may_keep=desk.may(SUPERVISORS))


def round_words(site: Site) -> dict[str, str]:
    """Return every round that was ever walked, as the words of a filter."""
    return {"": "All rounds", **{str(one.pk): one.name for one in Round.objects.at(site)}}


def rows_of(walks: Iterable[Walk]) -> tuple[WalkRow, ...]:
    """Return walks of `walk_rows` as rows of the list."""
    return tuple(_row(walk) for walk in walks)


def walk_rows(site: Site, round_pk: int | None) -> QuerySet[Walk]:
    """Return walks with how many check points they have, how many are done, how many lines are odd."""
    rows = Walk.objects.at(site).select_related("round", "begun_by", "ended_by")
    if round_pk is not None:
        rows = rows.filter(round=round_pk)
    counting = Q(stops__answers__beside__isnull=True, stops__answers__replaced_by__isnull=True)
    odd = ~Q(stops__answers__entries__asked="") | Q(stops__answers__entries__good=False)
    odd |= ~Q(stops__answers__entries__could_not="")
    return rows.annotate(
        of=Count("stops", distinct=True),
        left=_left(),
        odd=Count(
            "stops__answers__entries",
            filter=counting & odd & Q(stops__answers__entries__isnull=False),
            distinct=True,
        ),
        second=Count(
            "stops__answers",
            filter=Q(stops__answers__beside__isnull=False, stops__answers__taken_as__isnull=True),
            distinct=True,
        ),
    ).order_by("-number")


def _row(walk: Walk) -> WalkRow:
    of, left = walk.of, walk.left  # type: ignore[attr-defined]
    return WalkRow(walk=walk, of=of, done=of - left, odd=walk.odd, second=walk.second)  # type: ignore[attr-defined]


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What was asked about a number, and what was answered."""

    head: str
    answer: str

    @property
    def told(self) -> str:
        """Both in one line."""
        return f"{self.head}{'' if self.head.endswith('?') else ':'} {self.answer}."


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryView:
    """One line that was written."""

    entry: WalkEntry
    tag: str
    what: str
    told: str
    questions: tuple[Question, ...]

    @property
    def odd(self) -> bool:
        """Whether it was asked about, was not good or could not be read."""
        return bool(self.questions) or self.entry.good is False or bool(self.entry.could_not)

    @property
    def mark(self) -> Shown | None:
        """The mark beside what is odd."""
        if self.entry.could_not:
            return COULD_NOT
        if self.entry.good is False:
            return Shown("Not good", "no", "bad")
        if any(one.head.startswith(("Above", "Below the")) for one in self.questions):
            return Shown("Over its limit", "over", "bad")
        return Shown("Asked about", "asks", "watch") if self.questions else None


@dataclass(frozen=True, slots=True, kw_only=True)
class StopView:
    """One check point of a walk with what was written there."""

    mark: StopMark
    stop: WalkStop
    answer: StopAnswer | None
    entries: tuple[EntryView, ...]
    seconds: tuple[StopAnswer, ...]

    @property
    def shown(self) -> Shown | None:
        """How it stands."""
        return SHAPES.get(self.answer.outcome, COULD_NOT) if self.answer is not None else None

    @property
    def odd(self) -> tuple[EntryView, ...]:
        """The lines that are odd."""
        return tuple(one for one in self.entries if one.odd)


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkPage:
    """One walk."""

    walk: Walk
    stops: tuple[StopView, ...]
    may_write: bool

    @property
    def of(self) -> int:
        """How many check points it has."""
        return len(self.stops)

    @property
    def marks(self) -> tuple[StopMark, ...]:
        """Its check points as marks."""
        return tuple(one.mark for one in self.stops)

    @property
    def left(self) -> tuple[StopView, ...]:
        """What is not done."""
        return tuple(one for one in self.stops if one.answer is None)

    @property
    def done(self) -> int:
        """How many are done."""
        return self.of - len(self.left)

    @property
    def read(self) -> int:
        """How many were read and looked at."""
        return self.done - self.skipped

    @property
    def skipped(self) -> int:
        """How many were not running or could not be done."""
        return sum(one.mark.skipped for one in self.stops)

    @property
    def odd(self) -> tuple[StopView, ...]:
        """The check points where something was odd."""
        return tuple(one for one in self.stops if one.odd or one.seconds or one.mark.skipped)

    @property
    def next(self) -> StopMark | None:
        """The first that is left."""
        return self.left[0].mark if self.left else None


def walk_page(desk: Desk, walk: Walk) -> WalkPage:
    """Return one walk; the same number of queries for few and many check points."""
    stops = list(
        walk.stops.select_related("position").prefetch_related(
            "answers__written_by",
            "answers__recorded_by",
            "answers__replaced_by",
            "answers__taken_as",
            "answers__entries__line__position",
            "answers__entries__reading__replaced_by",
            "answers__entries__order",
        )
    )
    views = tuple(_stop_view(walk, stop, len(stops)) for stop in stops)
    return WalkPage(walk=walk, stops=views, may_write=desk.may(OPERATORS))


def _stop_view(walk: Walk, stop: WalkStop, of: int) -> StopView:
    answers = list(stop.answers.all())
    answer = next((one for one in answers if one.beside_id is None and not hasattr(one, "replaced_by")), None)
    seconds = tuple(one for one in answers if one.beside_id is not None and not hasattr(one, "taken_as"))
    entries = entries_of(answer)
    mark = mark_of(walk, stop, of, answer, odd=any(one.odd for one in entries), beside=bool(seconds))
    return StopView(mark=mark, stop=stop, answer=answer, entries=entries, seconds=seconds)


def mark_of(
    walk: Walk, stop: WalkStop, of: int, answer: StopAnswer | None, *, odd: bool = False, beside: bool = False
) -> StopMark:
    """Return a check point as the list of its walk shows it."""
    step = 100 / of
    return StopMark(
        number=stop.number,
        name=stop.name,
        url=reverse("maintenance:walk-point", args=[walk.number, stop.number]),
        outcome=answer.outcome if answer is not None else "",
        odd=odd,
        beside=beside,
        x=f"{(stop.number - 1) * step + step / 11:.2f}",
        width=f"{step * 9 / 11:.2f}",
    )


def marks_of(walk: Walk, now_at: int) -> tuple[StopMark, ...]:
    """Return the check points of a walk as marks, one of them open now."""
    stops = list(walk.stops.all())
    counting = {one.stop_id: one for one in StopAnswer.objects.counting().filter(stop__walk=walk)}
    marks = (mark_of(walk, stop, len(stops), counting.get(stop.pk)) for stop in stops)
    return tuple(replace(mark, now=mark.number == now_at) for mark in marks)


def entries_of(answer: StopAnswer | None) -> tuple[EntryView, ...]:
    """Return the lines of an answer in words."""
    if answer is None:
        return ()
    return tuple(_entry(one) for one in answer.entries.all())


def _entry(entry: WalkEntry) -> EntryView:
    line = entry.line
    asked = json.loads(entry.asked) if entry.asked else []
    return EntryView(
        entry=entry,
        tag=line.position.tag if line.position is not None else "",
        what=line.what,
        told=_told(entry),
        questions=tuple(Question(head=one["head"], answer=one["answer"] or "not answered") for one in asked),
    )


def _told(entry: WalkEntry) -> str:
    line = entry.line
    if entry.could_not:
        return f"could not be read, because {entry.could_not}"
    if entry.good is not None:
        fine, not_fine = ("good", "not good") if line.kind == LineKind.LOOK else ("none on", "one is on")
        return fine if entry.good else f"{not_fine}: {entry.words}"
    if line.kind == LineKind.DRAWDOWN:
        return f"{entry.typed}{f': {_rate(entry)}' if entry.reading else ''}"
    corrected = getattr(entry.reading, "replaced_by", None)
    was = f", corrected to {as_typed(corrected.entered)} {corrected.unit}" if corrected is not None else ""
    return f"{as_typed(entry.typed)} {line.unit}{was}"


def _rate(entry: WalkEntry) -> str:
    assert entry.reading is not None
    return f"{about(read_number(entry.reading.entered), 4)} {entry.line.unit}"


def next_number(walk: Walk, after: int = 0) -> int | None:
    """Return the number of the next check point that nobody wrote yet, behind one, else from the beginning."""
    left = list(
        walk.stops.filter(~Exists(_counting(OuterRef("pk")))).order_by("number").values_list("number", flat=True)
    )
    return next((number for number in left if number > after), left[0] if left else None)
