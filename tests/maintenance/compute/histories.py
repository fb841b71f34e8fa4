"""Random histories of routines for property tests."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import strategies as st

from maintenance.compute.schedule import (
    FAILED,
    Act,
    Allowance,
    Block,
    Facts,
    Fitting,
    Mode,
    Retirement,
    Term,
    Unit,
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


def day_after(offset: int) -> date:
    return START + timedelta(days=offset)


@st.composite
def terms(draw: st.DrawFn, *, decided: date = START, modes: tuple[Mode, ...] = tuple(Mode)) -> Term:
    every, unit = draw(INTERVALS)
    return Term(
        mode=draw(st.sampled_from(modes)),
        every=every,
        unit=unit,
        from_day=decided,
        decided_on=decided,
        recorded_at=at(decided, "00:00"),
        anchor=decided + timedelta(days=draw(st.integers(-40, 20))),
        early=draw(ALLOWANCES),
        late=draw(ALLOWANCES),
        by_rule=draw(st.booleans()),
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
        blocks.append(Block(from_day=first, to_day=release, because=f"reason {n}"))
    return tuple(blocks)


@st.composite
def histories(draw: st.DrawFn, *, modes: tuple[Mode, ...] = tuple(Mode), changes: int = 2) -> Facts:
    """A routine with up to `changes` changes of terms, swaps, acts, and perhaps an end."""
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
        retired=None
        if retired is None
        else Retirement(day=day_after(retired), recorded_at=at(day_after(retired)), because="scrapped"),
    )
