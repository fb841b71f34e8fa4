"""Mean time between failures at a constant rate, with chi-square bounds.

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1 (test ended by time).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from assets.compute.words import count_of


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanTime:
    """Mean time between failures in the unit of `running`, from n failures; two-sided bounds at `confidence`.

    Without a failure there is no estimate and no upper bound; `low` is then one-sided, T / -ln(1 - confidence).
    """

    n: int
    running: float
    mean: float | None
    low: float
    high: float | None
    confidence: float
    says: str


def mean_time_between_failures(failures: int, running: float, *, confidence: float = 0.9) -> MeanTime:
    """Return T / r with 2 T / chi2(1 - a/2; 2 r + 2) and 2 T / chi2(a/2; 2 r).

    `running` is the summed running time of all units alike. Raises ValueError for a time or count out of range.
    """
    from scipy.special import gammaincinv

    if failures < 0 or running <= 0 or not 0 < confidence < 1:
        raise ValueError("Failures are counted from 0, running time and confidence lie above 0, confidence below 1.")
    if failures == 0:
        return MeanTime(
            n=0,
            running=running,
            mean=None,
            low=running / -math.log(1 - confidence),
            high=None,
            confidence=confidence,
            says="No failure yet: only a lower bound can be told.",
        )
    # A chi-square quantile with 2 m degrees of freedom is twice the gamma quantile of shape m.
    tail = (1 - confidence) / 2
    return MeanTime(
        n=failures,
        running=running,
        mean=running / failures,
        low=running / float(gammaincinv(failures + 1, 1 - tail)),
        high=running / float(gammaincinv(failures, tail)),
        confidence=confidence,
        says=f"From {count_of(failures, 'failure')}, taking the rate as constant.",
    )
