"""Repairs of one machine over its running time: does it get better or worse, and how often does it fail by now.

Sources: NIST/SEMATECH e-Handbook 8.2.3.4 (trend tests), 8.4.5.2 (power law, observation ended by time).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist


@dataclass(frozen=True, slots=True, kw_only=True)
class Repairs:
    """Running times of the repairs, in order, and the running time `end` at which observation ended, one unit.

    Raises ValueError when they are out of order, at or before 0, or not before the end.
    """

    times: tuple[float, ...]
    end: float

    def __post_init__(self) -> None:
        """Refuse times that are no history."""
        edges = (0.0, *self.times, self.end)
        if any(later <= earlier for earlier, later in pairwise(edges)):
            raise ValueError("Repairs follow each other in running time, after 0 and before the end.")

    @property
    def n(self) -> int:
        """How many repairs there were."""
        return len(self.times)

    @property
    def log_sum(self) -> float:
        """The sum of ln(T / t)."""
        return math.fsum(math.log(self.end / time) for time in self.times)


@dataclass(frozen=True, slots=True, kw_only=True)
class TooFewRepairs:
    """No answer: how many repairs there are, and the sentence to show."""

    n: int
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PowerLaw:
    """M(t) = a t^b repairs by running time t; b above 1 is getting worse, below 1 better.

    `b` is the modified estimate (r - 1) / sum ln(T / t), `plain_b` the maximum likelihood r / sum; `growth` is 1 - b.
    `mean_time` is the time between failures at the end, with two-sided bounds; `high` is None where n is too small.
    """

    n: int
    a: float
    b: float
    plain_b: float
    growth: float
    mean_time: float
    low: float
    high: float | None
    confidence: float
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """One trend test: its statistic, and the one-sided probabilities of it in a machine without trend.

    `improving` is the probability of a statistic at least as far on the side of getting better, `worsening` on the
    other. Choose one test before looking.
    """

    test: str
    n: int
    statistic: float
    improving: float
    worsening: float


def power_law(repairs: Repairs, *, confidence: float = 0.8) -> PowerLaw | TooFewRepairs:
    """Fit the power law and the time between failures at the end, with bounds."""
    n = repairs.n
    if n < 3:
        return TooFewRepairs(n=n, says=f"Too few repairs to say: at least 3 are needed, there are {n}.")
    b = (n - 1) / repairs.log_sum
    mean = repairs.end / (n * b)
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    under = n + z * z / 4 + math.sqrt(n * z * z / 2 + z**4 / 16)
    over = n - z * math.sqrt(n / 2)
    way = "more seldom" if b < 1 else "more often"
    return PowerLaw(
        n=n,
        a=n / repairs.end**b,
        b=b,
        plain_b=n / repairs.log_sum,
        growth=1 - b,
        mean_time=mean,
        low=mean * n * (n - 1) / under**2,
        high=mean * n * (n - 1) / over**2 if over > 0 else None,
        confidence=confidence,
        says=f"From {n} repairs; on this fit the machine fails {way} as it runs.",
    )


def reverse_arrangements(repairs: Repairs) -> Trend | TooFewRepairs:
    """Count the pairs of times between failures of which the later is longer; equal ones are not longer.

    The probabilities are exact for times that all differ.
    """
    n = repairs.n
    if n < 4:
        return TooFewRepairs(n=n, says=f"Too few repairs to say: this test needs at least 4, there are {n}.")
    gaps = [later - earlier for earlier, later in pairwise((0.0, *repairs.times))]
    count = sum(later > earlier for at, earlier in enumerate(gaps) for later in gaps[at + 1 :])
    ways = _arrangements(n)
    return Trend(
        test="reverse arrangements",
        n=n,
        statistic=count,
        improving=sum(ways[count:]) / math.factorial(n),
        worsening=sum(ways[: count + 1]) / math.factorial(n),
    )


def military_handbook(repairs: Repairs) -> Trend | TooFewRepairs:
    """Return 2 sum ln(T / t), chi-square with 2 r degrees of freedom without trend; large is getting better."""
    from scipy.special import gammainc, gammaincc

    n = repairs.n
    if n < 1:
        return TooFewRepairs(n=n, says="Too few repairs to say: there is none.")
    return Trend(
        test="military handbook",
        n=n,
        statistic=2 * repairs.log_sum,
        improving=float(gammaincc(n, repairs.log_sum)),
        worsening=float(gammainc(n, repairs.log_sum)),
    )


def laplace(repairs: Repairs) -> Trend | TooFewRepairs:
    """Return sqrt(12 r) sum(t - T / 2) / (r T), near to standard normal without trend; negative is getting better."""
    n = repairs.n
    if n < 4:
        return TooFewRepairs(n=n, says=f"Too few repairs to say: this test needs at least 4, there are {n}.")
    away = math.fsum(time - repairs.end / 2 for time in repairs.times)
    score = math.sqrt(12 * n) * away / (n * repairs.end)
    below = 0.5 * math.erfc(-score / math.sqrt(2))
    return Trend(test="Laplace", n=n, statistic=score, improving=below, worsening=1 - below)


def _arrangements(n: int) -> list[int]:
    """Return how many orders of n different values have 0, 1, 2, ... pairs of which the later is greater."""
    ways = [1]
    for size in range(2, n + 1):
        longer = [0] * (len(ways) + size - 1)
        for at, count in enumerate(ways):
            for added in range(size):
                longer[at + added] += count
        ways = longer
    return ways
