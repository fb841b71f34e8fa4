"""What advice on an interval is made from and looks like: as found results in, a proposal out, never applied."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

FEWEST = 5  # common practice, no source: below it only the staircase speaks


@dataclass(frozen=True, slots=True, kw_only=True)
class AsFound:
    """A result before anything was touched: days since the check before it, error and limit in one unit."""

    days: Fraction
    error: Fraction
    limit: Fraction

    @property
    def inside(self) -> bool:
        """Whether the error lies within its limit; on the limit is inside."""
        return abs(self.error) <= self.limit


@dataclass(frozen=True, slots=True, kw_only=True)
class AsLeft:
    """A result after an adjustment: it says what was done, and nothing about the interval before it."""

    days: Fraction
    error: Fraction
    limit: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamps:
    """The shortest and the longest interval, in days, that this instrument may ever be given."""

    shortest: Fraction
    longest: Fraction

    def __post_init__(self) -> None:
        """Raise ValueError when they are not in order."""
        if not 0 < self.shortest <= self.longest:
            raise ValueError("The shortest interval is above zero and no longer than the longest.")

    def held(self, days: Fraction) -> Fraction:
        """Return an interval, in days, held between the two."""
        return max(self.shortest, min(self.longest, days))


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """Advice on an interval, for a person to take or leave.

    `days` is None when the method has no advice. `low` and `high` are confidence limits of the advised interval, in
    days, before clamping, where the method has them; `model` and `aic` are of a fit; `clamped` says that a clamp
    decided.
    """

    days: Fraction | None
    current: Fraction
    method: str
    n: int
    why: str
    clamps: Clamps
    model: str = ""
    low: float | None = None
    high: float | None = None
    confidence: float | None = None
    aic: float | None = None
    clamped: bool = False


def only_as_found(results: Iterable[object]) -> tuple[AsFound, ...]:
    """Return the results; raises TypeError when one of them is anything but as found."""
    kept = tuple(results)
    found = tuple(one for one in kept if isinstance(one, AsFound))
    if len(found) != len(kept):
        raise TypeError("Only as found results say anything about an interval; as left results are refused.")
    return found


def not_enough(*, current: Fraction, method: str, n: int, clamps: Clamps, why: str) -> Proposal:
    """Return the proposal that changes nothing, with its reason."""
    return Proposal(days=None, current=current, method=method, n=n, clamps=clamps, why=f"Not enough evidence: {why}")
