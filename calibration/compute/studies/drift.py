"""How fast an instrument drifts after an adjustment, and when its error may meet the guarded limit.

Least squares with a prediction bound (NIST/SEMATECH e-Handbook 4.5.1, 5.5), and as second opinion the median slope with
limits (Sen 1968, J. Am. Stat. Assoc. 63, 1379-1389), which one bad check cannot steer, with the Mann-Kendall test.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.coverage import student_quantile
from calibration.compute.straight_line import StraightLine, line_through

FEWEST = 5  # common practice, no source: with fewer checks the bound is wider than any interval worth advising


@dataclass(frozen=True, slots=True, kw_only=True)
class DriftPoint:
    """An as found error, in the unit of the limit, and the days since the adjustment before it."""

    days: Fraction
    error: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class TooFew:
    """Not enough checks to speak: how many there are, and the sentence to show."""

    n: int
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """A line of error against days: slope (unit a day), intercept and residual standard deviation (unit).

    `meets` is the earliest day at which the one-sided prediction bound of one future check reaches the guarded limit on
    either side, `mean_meets` the same of the line itself; None where it is never reached. `extrapolated` is true when
    `meets` lies after the last check.
    """

    n: int
    slope: Fraction
    intercept: Fraction
    residual_sd: float
    confidence: float
    limit: Fraction
    last: Fraction
    meets: float | None
    mean_meets: float | None
    extrapolated: bool
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MedianDrift:
    """The median of the slopes between all pairs, its limits, and the Mann-Kendall test of any trend at all.

    `slope` with `low` and `high` in unit a day; `score` counts rising pairs less falling ones; `p` is two-sided.
    """

    n: int
    slope: float
    low: float
    high: float
    confidence: float
    intercept: float
    score: int
    p: float
    says: str


def drift(
    points: Sequence[DriftPoint], *, limit: Fraction, expanded: Fraction = Fraction(0), confidence: float = 0.95
) -> Drift | TooFew:
    """Fit the line and say when its bound meets the guarded limit, limit - expanded (the expanded uncertainty U).

    Raises ValueError when U leaves nothing of the limit.
    """
    guarded = limit - expanded
    if guarded <= 0:
        raise ValueError("The uncertainty leaves nothing of the limit; no day can be told.")
    if (few := _too_few(points)) is not None:
        return few
    line = line_through(tuple((point.days, point.error) for point in points))
    assert line is not None  # three different days draw one
    factor = student_quantile(confidence, len(points) - 2)
    last = max(point.days for point in points)
    meets = _earliest(line, float(guarded), factor)
    return Drift(
        n=len(points),
        slope=line.slope,
        intercept=line.intercept,
        residual_sd=line.residual_sd or 0.0,
        confidence=confidence,
        limit=guarded,
        last=last,
        meets=meets,
        mean_meets=_earliest(line, float(guarded), 0.0),
        extrapolated=meets is not None and meets > last,
        says=_sentence(len(points), meets, last, "guarded limit" if expanded else "limit"),
    )


def median_drift(
    points: Sequence[DriftPoint], *, confidence: float = 0.95, joint: bool = False
) -> MedianDrift | TooFew:
    """Return the median slope with its limits; `joint` takes the intercept from the median of y - slope x.

    Otherwise the intercept is median y - slope median x. For code that tasks run: imports scipy.stats.
    """
    if (few := _too_few(points)) is not None:
        return few
    from scipy import stats

    days = [float(point.days) for point in points]
    errors = [float(point.error) for point in points]
    found = stats.theilslopes(errors, days, alpha=confidence, method="joint" if joint else "separate")
    # Level errors have no rank correlation: there is then no trend to doubt.
    p = float(stats.kendalltau(days, errors).pvalue) if len(set(errors)) > 1 else 1.0
    score = _score(points)
    trend = f"a {'rising' if score > 0 else 'falling'} trend" if p < 1 - confidence else "no trend that stands out"
    return MedianDrift(
        n=len(points),
        slope=float(found.slope),
        low=float(found.low_slope),
        high=float(found.high_slope),
        confidence=confidence,
        intercept=float(found.intercept),
        score=score,
        p=p,
        says=f"{len(points)} as found checks show {trend}.",
    )


def _too_few(points: Sequence[DriftPoint]) -> TooFew | None:
    n = len(points)
    if n < FEWEST:
        return TooFew(
            n=n, says=f"Too few checks to say: drift needs at least {FEWEST} as found results, there are {n}."
        )
    if len({point.days for point in points}) < 3:
        return TooFew(n=n, says="Too few checks to say: they lie on fewer than three days after adjustment.")
    return None


def _earliest(line: StraightLine, limit: float, factor: float) -> float | None:
    """Return the earliest day from 0 on which the bound reaches +limit from below or -limit from above."""
    days = [day for sign in (1.0, -1.0) if (day := _crossing(line, sign=sign, limit=limit, factor=factor)) is not None]
    return min(days, default=None)


def _crossing(line: StraightLine, *, sign: float, limit: float, factor: float) -> float | None:
    # The bound a + b x + k sqrt(1 + 1/n + (x - m)^2 / Sxx) = limit, squared: a quadratic in x - m. The squaring adds
    # the crossing of the other bound, which is told apart by its residue.
    n, mean, sxx = len(line.points), float(line.mean_x), float(line.sxx)
    slope, at_mean = sign * float(line.slope), sign * float(line.mean_y)
    spread = factor * (line.residual_sd or 0.0)

    def bound(z: float) -> float:
        return at_mean + slope * z + spread * math.sqrt(1 + 1 / n + z * z / sxx)

    if bound(-mean) >= limit:
        return 0.0
    room, wide = limit - at_mean, spread * spread * (1 + 1 / n)
    # A quarter of the discriminant, with the terms that cancel taken out by hand: the two roots lie close together
    # when the checks lie close to their line.
    under = slope * slope * wide + (room * room - wide) * spread * spread / sxx
    roots = _roots(slope * slope - spread * spread / sxx, room * slope, room * room - wide, under)
    slack = 1e-9 * (abs(room) + abs(limit))
    later = [z for z in roots if z > -mean and abs(bound(z) - limit) <= slack]
    return min(later) + mean if later else None


def _roots(a: float, half: float, c: float, under: float) -> tuple[float, ...]:
    """Return the roots of a z^2 - 2 half z + c, given half^2 - a c."""
    if under < 0:
        return ()
    far = half + math.copysign(math.sqrt(under), half)
    return (*((far / a,) if a else ()), *((c / far,) if far else ()))


def _score(points: Sequence[DriftPoint]) -> int:
    ordered = sorted(points, key=lambda point: point.days)
    return sum(
        (later.error > earlier.error) - (later.error < earlier.error)
        for at, earlier in enumerate(ordered)
        for later in ordered[at + 1 :]
        if later.days > earlier.days
    )


def _sentence(n: int, meets: float | None, last: Fraction, edge: str) -> str:
    if meets is None:
        return f"From {n} as found checks the error does not reach its {edge} on this line."
    day = math.floor(meets)
    if meets <= last:
        return f"From {n} as found checks the error may meet its {edge} on day {day} of this stretch."
    return (
        f"From {n} as found checks the error may meet its {edge} on day {day} of this stretch. That is an "
        f"extrapolation: no check was made later than day {math.floor(last)}."
    )
