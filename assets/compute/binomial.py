"""How sure a share is: the exact limits of k in n."""

from __future__ import annotations


def exact_limits(k: int, n: int, *, confidence: float = 0.95) -> tuple[float, float]:
    """Return the exact two-sided limits of k in n (Clopper-Pearson), 0 to 1.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1. Raises ValueError unless 0 <= k <= n and n >= 1.
    """
    from scipy.special import betaincinv

    if n < 1 or not 0 <= k <= n:
        raise ValueError("A share is of at least one thing, and counts from none to all of them.")
    tail = (1 - confidence) / 2
    low = float(betaincinv(k, n - k + 1, tail)) if k else 0.0
    high = float(betaincinv(k + 1, n - k, 1 - tail)) if k < n else 1.0
    return low, high
