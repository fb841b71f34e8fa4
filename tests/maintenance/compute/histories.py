"""Random histories of routines for property tests."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction

from hypothesis import strategies as st

from maintenance.compute.schedule import (
    FAILED,
    Act,
    Allowance,
    AlsoFulfils,
    Block,
    ByUse,
    Deferral,
    Facts,
    Fitting,
    Limits,
    Metered,
    Mode,
    Pause,
    Retirement,
    Run,
    Term,
    Unit,
    Value,
)
from tests.maintenance.compute.routines import at

START = date(2027, 12, 15)  # the months after it hold a leap day
LAST = 150  # days after the start within which everything happens
OFFSETS = st.integers(-20, LAST)
ALLOWANCES = st.builds(Allowance, st.integers(0, 12)) | st.builds(
    Allowance, st.integers(0, 60), of_period=st.just(True)
)
INTERVALS = st.tuples(st.integers(3, 45), st.just(Unit.DAY)) | st.tuples(
    st.integers(1, 2), st.sampled_from([Unit.MONTH, Unit.WEEK])
)

PERIODS = st.sampled_from([(1, Unit.WEEK), (1, Unit.MONTH), (3, Unit.MONTH)])
USES = st.builds(
    ByUse,
    every=st.integers(50, 400).map(Fraction),
    unit=st.just("h"),
    early=st.integers(0, 40).map(Fraction),
    late=st.integers(0, 40).map(Fraction),
)
LIMITS = st.builds(Limits, high=st.just(Fraction(10)), answer_days=st.integers(0, 5))


def day_after(offset: int) -> date:
    return START + timedelta(days=offset)


@st.composite
def terms(draw: st.DrawFn, *, decided: date = START, modes: tuple[Mode, ...] = tuple(Mode)) -> Term:
    mode = draw(st.sampled_from(modes))
    every, unit = draw(PERIODS if mode is Mode.PERIOD else INTERVALS)
    return Term(
        mode=mode,
        every=every,
        unit=unit,
        from_day=decided,
        decided_on=decided,
        recorded_at=at(decided, "00:00"),
        anchor=decided + timedelta(days=draw(st.integers(-40, 20))),
        early=draw(ALLOWANCES),
        late=draw(ALLOWANCES),
        by_rule=draw(st.booleans()),
        while_running=draw(st.booleans()),
        spacing=draw(st.integers(0, 7)) if mode is Mode.PERIOD else 0,
        bench=draw(st.booleans()),
        use=draw(USES),
        limits=draw(LIMITS),
    )


@st.composite
def histories_of_acts(draw: st.DrawFn) -> tuple[Act, ...]:
    """Acts on random days and hours, some not counting, some correcting an earlier entry."""
    done: list[Act] = []
    free: list[str] = []  # acts that nothing corrects yet
    for n in range(draw(st.integers(0, 8))):
        day = day_after(draw(OFFSETS))
        performed_at = at(day, f"{draw(st.integers(0, 23)):02}:{n:02}")
        replaces = draw(st.sampled_from(["", "", *free]))
        counts = draw(st.booleans()) or draw(st.booleans())
        done.append(
            Act(
                key=f"a{n}",
                day=day,
                performed_at=performed_at,
                recorded_at=performed_at,
                counts=counts,
                because="" if counts else FAILED,
                asset=draw(st.sampled_from(["", "", "probe 0", "probe 1"])),
                replaces=replaces,
                routine=draw(st.sampled_from(["", "", "", "calibration"])),
                in_place=draw(st.booleans()) or draw(st.booleans()),
            )
        )
        free = [key for key in free if key != replaces] + [f"a{n}"]
    return tuple(done)


@st.composite
def histories_of_blocks(draw: st.DrawFn) -> tuple[Block, ...]:
    """Up to four blocks, overlapping or not, some never released."""
    blocks = []
    for n in range(draw(st.integers(0, 4))):
        first = day_after(draw(OFFSETS))
        length = draw(st.none() | st.integers(0, 40))
        release = None if length is None else first + timedelta(days=length)
        blocks.append(Block(from_day=first, to_day=release, because=f"reason {n}", off=draw(st.integers(0, 3)) == 0))
    return tuple(blocks)


@st.composite
def histories_of_pauses(draw: st.DrawFn) -> tuple[Pause, ...]:
    """Up to two pauses, overlapping or not, some still on."""
    pauses = []
    for n in range(draw(st.integers(0, 2))):
        first = day_after(draw(OFFSETS))
        length = draw(st.none() | st.integers(0, 60))
        last = None if length is None else first + timedelta(days=length)
        pauses.append(
            Pause(key=f"p{n}", from_day=first, to_day=last, because="out of season", recorded_at=at(first, "00:00"))
        )
    return tuple(pauses)


@st.composite
def histories_of_runs(draw: st.DrawFn) -> tuple[Run, ...]:
    """Up to five stretches of running, one after the other; the last one may go on."""
    runs: list[Run] = []
    day = day_after(draw(st.integers(-20, 20)))
    for n in range(draw(st.integers(0, 5))):
        last = day + timedelta(days=draw(st.integers(0, 12)))
        ended = n < 4 or draw(st.booleans())
        runs.append(
            Run(
                key=f"r{n}",
                from_at=at(day, "06:00"),
                from_day=day,
                recorded_at=at(day, "06:00"),
                to_at=at(last, "18:00") if ended else None,
                last_day=last if ended else None,
                to_recorded_at=at(last, "18:00") if ended else None,
            )
        )
        day = last + timedelta(days=draw(st.integers(0, 20)))
    return tuple(runs)


@st.composite
def histories_of_totals(draw: st.DrawFn) -> tuple[Metered, ...]:
    """Totals of an hour meter that never fall, some written down days after they were read."""
    offsets = sorted(draw(st.sets(OFFSETS, max_size=8)))
    total = Fraction(0)
    read = []
    for offset in offsets:
        total += draw(st.integers(0, 200))
        known = day_after(offset + draw(st.integers(0, 6)))
        recorded_at = at(known, "20:00")
        day = day_after(offset)
        read.append(Metered(at=at(day, "07:00"), day=day, total=total, known_on=known, recorded_at=recorded_at))
    return tuple(read)


@st.composite
def histories_of_values(draw: st.DrawFn) -> tuple[Value, ...]:
    """Values around their limit of 10."""
    values = []
    for n, offset in enumerate(sorted(draw(st.sets(OFFSETS, max_size=8)))):
        day, value = day_after(offset), Fraction(draw(st.integers(5, 15)))
        known = day_after(offset + draw(st.integers(0, 4)))
        values.append(
            Value(
                key=f"v{n}",
                at=at(day, "13:15"),
                day=day,
                value=value,
                known_on=known,
                recorded_at=at(known, "20:00"),
            )
        )
    return tuple(values)


@st.composite
def deferrals_of(draw: st.DrawFn, keys: tuple[str, ...]) -> tuple[Deferral, ...]:
    """Up to three deferrals of turns with these keys."""
    if not keys:
        return ()
    deferrals = []
    for n in range(draw(st.integers(0, 3))):
        approved = day_after(draw(OFFSETS))
        deferrals.append(
            Deferral(
                key=f"d{n}",
                turn=draw(st.sampled_from(keys)),
                to_day=approved + timedelta(days=draw(st.integers(1, 30))),
                approved_on=approved,
                approved_at=at(approved),
                requested_by="operator",
                approved_by="supervisor",
                because="part ordered",
                recorded_at=at(approved),
            )
        )
    return tuple(deferrals)


@st.composite
def histories(
    draw: st.DrawFn, *, modes: tuple[Mode, ...] = tuple(Mode), changes: int = 2, pauses: bool = True
) -> Facts:
    """A routine with up to `changes` changes of terms, and everything that can happen to it."""
    decided = sorted(draw(st.sets(st.integers(1, LAST), max_size=changes)))
    fitted = draw(st.lists(OFFSETS, max_size=3, unique=True))
    retired = draw(st.none() | st.none() | st.integers(1, LAST))
    return Facts(
        start=START,
        terms=tuple(draw(terms(decided=day_after(n), modes=modes)) for n in (0, *decided)),
        acts=draw(histories_of_acts()),
        fittings=tuple(
            Fitting(
                key=f"f{n}",
                asset=f"probe {n % 2}",
                from_day=day_after(offset),
                from_at=at(day_after(offset), "11:30"),
                recorded_at=at(day_after(offset), "11:30"),
            )
            for n, offset in enumerate(sorted(fitted))
        ),
        follows_asset=draw(st.booleans()),
        runs=draw(histories_of_runs()),
        pauses=draw(histories_of_pauses()),
        also=draw(st.sampled_from([(), (AlsoFulfils(routine="calibration", from_day=START, recorded_at=at(START)),)])),
        metered=draw(histories_of_totals()) if {Mode.USAGE, Mode.FIRST_OF} & set(modes) else (),
        values=draw(histories_of_values()) if Mode.CONDITION in modes else (),
        retired=None
        if retired is None
        else Retirement(day=day_after(retired), recorded_at=at(day_after(retired)), because="scrapped"),
    )
