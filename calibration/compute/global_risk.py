"""Risk over many instruments rather than one result: how often a bad one passes, how often a good one is turned away.

For code that plans and compares rules. The true values follow a normal distribution (the history), the readings another
about them. Source: JCGM 106:2012, 9.5; the integrals are taken by Gauss-Legendre quadrature, checked in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass

from calibration.compute.coverage import below, normal_quantile

NODES = 20
PANELS = 16
FAR = 10.0
"""Standard deviations beyond which nothing is left that a float could hold."""

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Population:
    """What is known before measuring: mean and standard deviation of the true values, in one unit."""

    mean: float
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Risk:
    """Shares of all that is measured: `consumer` bad and accepted, `producer` good and refused, `bad` outside."""

    consumer: float
    producer: float
    bad: float


def global_risk(population: Population, u: float, *, tolerance: Interval, acceptance: Interval) -> Risk:
    """Return the risks of a rule that accepts readings within `acceptance` to keep true values within `tolerance`.

    u: standard uncertainty of a reading; all in one unit. Raises ValueError for what is not above 0 or not in order.
    """
    if not (population.sd > 0 and u > 0):
        raise ValueError("Both standard deviations are above 0.")
    if tolerance[0] >= tolerance[1] or acceptance[0] > acceptance[1]:
        raise ValueError("Limits stand in order, the lower one first.")
    reach = (population.mean - FAR * population.sd, population.mean + FAR * population.sd)
    edges = sorted({*reach, *tolerance, *(edge + side * FAR * u for edge in acceptance for side in (-1, 0, 1))})
    consumer = producer = 0.0
    for start, end in zip(edges, edges[1:], strict=False):
        if start < reach[0] or end > reach[1]:
            continue
        accepted, refused = _shares(population, u, acceptance, start, end)
        if tolerance[0] <= start and end <= tolerance[1]:
            producer += refused
        else:
            consumer += accepted
    outside = ((tolerance[0] - population.mean) / population.sd, (population.mean - tolerance[1]) / population.sd)
    return Risk(consumer=consumer, producer=producer, bad=below(outside[0]) + below(outside[1]))


def _shares(population: Population, u: float, acceptance: Interval, start: float, end: float) -> tuple[float, float]:
    """Integrate over one stretch of true values: the accepted share and the refused."""
    import numpy as np
    from scipy.special import ndtr

    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    half = (end - start) / (2 * PANELS)
    middles = start + half * (2 * np.arange(PANELS) + 1)
    true = (middles[:, None] + half * nodes[None, :]).ravel()
    z = (true - population.mean) / population.sd
    density = np.exp(-z * z / 2) / (population.sd * np.sqrt(2 * np.pi)) * np.tile(weights, PANELS) * half
    refused = ndtr((acceptance[0] - true) / u) + ndtr((true - acceptance[1]) / u)
    return float(np.sum(density * (1 - refused))), float(np.sum(density * refused))


def risk_at_ratio(ratio: float, in_tolerance: float, *, accepted_fraction: float = 1.0) -> Risk:
    """Return the risks for two-sided limits by their ratio to U (U = 2 u) and the share found in tolerance.

    accepted_fraction: the part of the limits within which a reading passes; 1 without a guard band. Errors as
    `global_risk`; raises ValueError for a share outside 0 to 1.
    """
    if not ratio > 0:
        raise ValueError("A ratio of limit and uncertainty is above 0.")
    spread = Population(mean=0.0, sd=1 / normal_quantile((1 + in_tolerance) / 2))
    return global_risk(
        spread, 1 / (2 * ratio), tolerance=(-1.0, 1.0), acceptance=(-accepted_fraction, accepted_fraction)
    )
