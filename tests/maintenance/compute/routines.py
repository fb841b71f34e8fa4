"""Routines for the tests of due dates: short ways to write facts, and one line of text for a turn on a day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from fractions import Fraction

from maintenance.compute.schedule import (
    NEVER,
    Act,
    Allowance,
    Block,
    Deferral,
    Ended,
    Facts,
    Fitting,
    Metered,
    Mode,
    Pause,
    Run,
    State,
    Term,
    Turn,
    Unit,
    Value,
    state,
    turns,
)

NO_DAYS = Allowance(0)
MONTHLY = (1, Unit.MONTH)


def on(text: str) -> date:
    """Day written as "31 Mar" (2026) or "29 Feb 2028"."""
    parts = text.split()
    return datetime.strptime(" ".join([*parts[:2], *(parts[2:] or ["2026"])]), "%d %b %Y").replace(tzinfo=UTC).date()


def at(day: date, clock: str = "12:00") -> datetime:
    """Instant on `day`, as if the site's zone were UTC."""
    return datetime.combine(day, time.fromisoformat(clock), UTC)


def term(
    mode: Mode = Mode.FIXED,
    every: tuple[int, Unit] = MONTHLY,
    *,
    anchor: str = "",
    decided: str = "1 Jan",
    late: Allowance = NO_DAYS,
    early: Allowance | None = None,
    by_rule: bool = False,
    asked: str = "",
    **rest: object,
) -> Term:
    """Terms decided on a day, asked for from the same day or another one."""
    return Term(
        mode=mode,
        every=every[0],
        unit=every[1],
        anchor=on(anchor) if anchor else None,
        early=Allowance(7) if early is None else early,
        late=late,
        by_rule=by_rule,
        from_day=on(asked or decided),
        decided_on=on(decided),
        recorded_at=at(on(decided)),
        **rest,  # type: ignore[arg-type]
    )


def fixed(anchor: str, every: tuple[int, Unit] = MONTHLY, **rest: object) -> Term:
    return term(Mode.FIXED, every, anchor=anchor, **rest)  # type: ignore[arg-type]


def floating(every: int = 30, **rest: object) -> Term:
    return term(Mode.FLOATING, (every, Unit.DAY), **rest)  # type: ignore[arg-type]


def act(
    day: str,
    *,
    clock: str = "12:00",
    key: str = "",
    entered: str = "",
    because: str = "",
    asset: str = "",
    replaces: str = "",
    **rest: object,
) -> Act:
    """Return an act on a site date; it counts unless there is a reason why not."""
    performed = on(day)
    return Act(
        key=key or f"{performed.isoformat()}T{clock}",
        day=performed,
        performed_at=at(performed, clock),
        recorded_at=at(on(entered)) if entered else at(performed, clock),
        counts=not because,
        because=because,
        asset=asset,
        replaces=replaces,
        **rest,  # type: ignore[arg-type]
    )


def acts(*days: str) -> tuple[Act, ...]:
    return tuple(act(day) for day in days)


def fitted(asset: str, day: str, clock: str = "09:00") -> Fitting:
    return Fitting(
        key=f"{asset} {day}", asset=asset, from_day=on(day), from_at=at(on(day), clock), recorded_at=at(on(day), clock)
    )


def routine(terms: Term | tuple[Term, ...], *done: Act, start: str, **rest: object) -> Facts:
    terms = terms if isinstance(terms, tuple) else (terms,)
    return Facts(start=on(start), terms=terms, acts=done, **rest)  # type: ignore[arg-type]


def locked(first: str, release: str = "", because: str = "locked out") -> Block:
    return Block(from_day=on(first), to_day=on(release) if release else None, because=because)


def put_off(turn: Turn, approved: str, to_day: str, because: str = "part ordered") -> Deferral:
    return Deferral(
        key=f"{approved} {to_day}",
        turn=turn.key,
        to_day=on(to_day),
        approved_on=on(approved),
        approved_at=at(on(approved)),
        requested_by="operator",
        approved_by="supervisor",
        because=because,
        recorded_at=at(on(approved)),
    )


def season(first: str, back: str = "", because: str = "out of season") -> Pause:
    began = on(first)
    return Pause(
        key=first, from_day=began, to_day=on(back) if back else None, because=because, recorded_at=at(began, "00:00")
    )


def ran(first: str, last: str = "") -> Run:
    """Ran from 06:00 on its first day to 18:00 on its last one; still runs without one."""
    began, ended = on(first), on(last) if last else None
    return Run(
        key=first,
        from_at=at(began, "06:00"),
        from_day=began,
        recorded_at=at(began, "06:00"),
        to_at=at(ended, "18:00") if ended else None,
        last_day=ended,
        to_recorded_at=at(ended, "18:00") if ended else None,
    )


def read(day: str, total: int, *, known: str = "", clock: str = "07:00") -> Metered:
    seen = on(day)
    known_on = on(known) if known else seen
    recorded_at = at(known_on, "20:00") if known else at(seen, clock)
    return Metered(at=at(seen, clock), day=seen, total=Fraction(total), known_on=known_on, recorded_at=recorded_at)


def value(day: str, number: str, *, known: str = "", clock: str = "13:00") -> Value:
    seen = on(day)
    known_on = on(known) if known else seen
    recorded_at = at(known_on, "20:00") if known else at(seen, clock)
    return Value(
        key=f"{day} {clock}",
        at=at(seen, clock),
        day=seen,
        value=Fraction(number),
        known_on=known_on,
        recorded_at=recorded_at,
    )


def quarter() -> Allowance:
    return Allowance(Fraction(25), of_period=True)


def written(day: date) -> str:
    """Day as "31 Mar", with its year when it is not 2026."""
    return f"{day.day} {day:%b}" + ("" if day.year == 2026 else f" {day.year}")


def line(turn: Turn, day: date, blocks: Sequence[Block] = (), deferrals: Sequence[Deferral] = ()) -> str:
    """Turn on a day in one line: due day, why, state, when it ended, days late, days blocked."""
    seen = state(turn, day, blocks, deferrals)
    ended = seen.state in (State.DONE, State.MISSED, State.WITHDRAWN)
    ended_on = turn.ended_on or turn.missed_from
    parts = [
        "by use" if turn.due == NEVER else written(turn.due),
        turn.why,
        seen.state.value,
        written(ended_on) if ended and ended_on else "",
    ]
    parts += [f"({seen.because})" if seen.because else "", f"late {seen.days_late}" if seen.days_late else ""]
    parts += [f"blocked {seen.blocked_days}" if seen.blocked_days else ""]
    return " ".join(part for part in parts if part)


def lines(facts: Facts, day: str, blocks: Sequence[Block] = (), deferrals: Sequence[Deferral] = ()) -> list[str]:
    """Every turn of a routine as it stands on a day."""
    return [line(turn, on(day), blocks, deferrals) for turn in turns(facts, on(day))]


def owed(facts: Facts, day: str) -> Turn:
    """Return the oldest open turn of a routine on a day."""
    return next(turn for turn in turns(facts, on(day)) if turn.ended is Ended.OPEN)


def days_between(first: date, last: date) -> list[date]:
    return [first + timedelta(days=n) for n in range((last - first).days + 1)]
