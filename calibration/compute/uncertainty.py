"""Uncertainty of a result from the uncertainties of what it was worked out from (JCGM 100:2008, clauses 4, 5, annex G).

A component is kept as it was stated (a half-width, a certificate's U, a standard deviation) with the number it is
divided by, so that a budget can print both. Uncertainties are floats: they end in a root.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal, TypeAlias

from calibration.compute.coverage import TWO_SIGMA, coverage_factor

Kind: TypeAlias = Literal["A", "B"]
Distribution: TypeAlias = Literal["normal", "rectangular", "triangular", "arcsine", "resolution"]
Correlations: TypeAlias = Mapping[tuple[str, str], float]
Matrix: TypeAlias = Sequence[Sequence[float]]

DIVISOR_SQUARED: Mapping[Distribution, int] = {
    "normal": 1,
    "rectangular": 3,
    "triangular": 6,
    "arcsine": 2,
    "resolution": 12,
}
"""Square of the number that gives the standard uncertainty; of a half-width, with 'resolution' of the whole step.

JCGM 100 4.3.7 (rectangular), 4.3.9 (triangular), H.1.3.4 (arcsine), F.2.2.1 (resolution).
"""

_SLACK = 1e-9  # rounding of a covariance that is nought in truth


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """One input of a budget: u = stated / sqrt(divisor_squared), in the unit of `stated`.

    `source` is a whole phrase that says who states it ('certificate 4711 of the lot'). `kind` is A (from repeats) or B
    (from anything else). `sensitivity` times u is its part in the result; `dof` are its degrees of freedom.
    Raises ValueError for a negative or endless `stated`, a divisor or degrees of freedom that are not above 0.
    """

    name: str
    source: str
    kind: Kind
    stated: Fraction | float
    divisor_squared: Fraction = Fraction(1)
    sensitivity: Fraction | float = Fraction(1)
    dof: float = math.inf
    unit: str = ""

    def __post_init__(self) -> None:
        """Refuse what no uncertainty can be."""
        if not (math.isfinite(self.stated) and self.stated >= 0):
            raise ValueError(f"{self.name}: an uncertainty is a number of 0 or more, not {self.stated}.")
        if not math.isfinite(self.sensitivity):
            raise ValueError(f"{self.name}: a sensitivity is a number, not {self.sensitivity}.")
        if self.divisor_squared <= 0:
            raise ValueError(f"{self.name}: an uncertainty is divided by a number above 0.")
        if not self.dof > 0:
            raise ValueError(f"{self.name}: degrees of freedom are above 0, not {self.dof}.")

    @property
    def u(self) -> float:
        """The standard uncertainty, in the component's own unit."""
        return float(self.stated) / math.sqrt(self.divisor_squared)

    @property
    def contribution(self) -> float:
        """Sensitivity times u, in the unit of the result; with its sign, which counts where inputs are correlated."""
        return float(self.sensitivity) * self.u


@dataclass(frozen=True, slots=True, kw_only=True)
class Combined:
    """What the components come to, in the unit of the result.

    `u_c` is the combined standard uncertainty; `contributions` are signed, in the order of the components; `shares`
    are percent of the variance and add up to 100 (a share can be negative where inputs are correlated). `dof` are the
    effective degrees of freedom, None where the formula does not hold; `expanded` is U = k u_c for `probability`.
    """

    u_c: float
    contributions: tuple[float, ...]
    shares: tuple[float, ...]
    dof: float | None
    k: float
    probability: float
    expanded: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeats:
    """A type A evaluation: n readings, their mean, standard deviation s and that of the mean, s / sqrt(n)."""

    n: int
    mean: Fraction
    s: float
    s_mean: float
    dof: int


def standard_uncertainty(half_width: float, distribution: Distribution) -> float:
    """Return u of what lies within plus or minus `half_width`; for 'resolution' give the whole step instead.

    In the unit of the half-width. 'normal' takes it as a standard uncertainty already.
    """
    return half_width / math.sqrt(DIVISOR_SQUARED[distribution])


def dof_of_doubt(relative: float) -> float:
    """Return the degrees of freedom of a type B uncertainty that is itself doubtful by a fraction `relative`.

    1 / (2 relative^2): 0.25 gives 8, 0.5 gives 2. JCGM 100 G.4.2, formula G.3. Raises ValueError below 0.
    """
    if relative < 0:
        raise ValueError("A doubt is 0 or more.")
    return math.inf if relative == 0 else 0.5 / relative**2


def repeats(values: Sequence[Fraction]) -> Repeats:
    """Evaluate repeated readings (JCGM 100 4.2). Raises ValueError for fewer than two: they show no spread."""
    n = len(values)
    if n < 2:
        raise ValueError("It takes two readings or more to see how they scatter.")
    mean = sum(values, Fraction(0)) / n
    variance = sum(((value - mean) ** 2 for value in values), Fraction(0)) / (n - 1)
    return Repeats(n=n, mean=mean, s=math.sqrt(variance), s_mean=math.sqrt(variance / n), dof=n - 1)


def covariance_of_means(observed: Sequence[Sequence[Fraction]]) -> tuple[tuple[float, ...], ...]:
    """Return the covariances of the means of several quantities that were read together (JCGM 100 5.2.3, formula 17).

    observed: one row of n readings for each quantity, in the same order. The diagonal holds u^2 of each mean.
    Raises ValueError for fewer than two readings or rows of unequal length.
    """
    if len({len(row) for row in observed}) != 1:
        raise ValueError("Quantities that were read together have the same number of readings.")
    n = len(observed[0])
    if n < 2:
        raise ValueError("It takes two readings or more to see how they scatter.")
    means = [sum(row, Fraction(0)) / n for row in observed]
    offs = [[value - mean for value in row] for row, mean in zip(observed, means, strict=True)]
    return tuple(
        tuple(float(sum((a * b for a, b in zip(one, two, strict=True)), Fraction(0)) / (n * (n - 1))) for two in offs)
        for one in offs
    )


def propagated(jacobian: Matrix, covariance: Matrix) -> tuple[tuple[float, ...], ...]:
    """Return the covariances of the results: J V J^T, the law of propagation for several results at once.

    jacobian: one row a result, one column an input (partial derivatives); covariance: of the inputs, square.
    JCGM 100 5.2.2 formula 13 and H.2. Raises ValueError where the shapes do not fit.
    """
    size = len(covariance)
    if any(len(row) != size for row in (*covariance, *jacobian)):
        raise ValueError("Each result needs one derivative for each input, and the covariances one row and column.")
    carried = [[math.fsum(row[i] * covariance[i][j] for i in range(size)) for j in range(size)] for row in jacobian]
    return tuple(tuple(math.fsum(a * b for a, b in zip(one, row, strict=True)) for row in jacobian) for one in carried)


def correlation(covariance: Matrix, i: int, j: int) -> float:
    """Return r of two quantities by their places. Raises ZeroDivisionError where one has no uncertainty."""
    return covariance[i][j] / math.sqrt(covariance[i][i] * covariance[j][j])


def second_order(hessian: Matrix, u: Sequence[float], *, gradient: Sequence[float] = (), third: Matrix = ()) -> float:
    """Return what the curvature of the formula adds to u_c^2, for independent inputs that are symmetric about the mean.

    The sum over i, j of (1/2 f_ij^2 + f_i f_ijj) u_i^2 u_j^2; `third` holds f_ijj and may be left out with `gradient`
    where it is nought (products). Units: of the result, squared. JCGM 100 5.1.2, note.
    """
    n = range(len(u))
    bent = math.fsum(0.5 * hessian[i][j] ** 2 * u[i] ** 2 * u[j] ** 2 for i in n for j in n)
    if not third:
        return bent
    return bent + math.fsum(gradient[i] * third[i][j] * u[i] ** 2 * u[j] ** 2 for i in n for j in n)


def effective_dof(contributions: Sequence[float], dofs: Sequence[float]) -> float:
    """Return nu_eff = u_c^4 / sum(u_i^4 / nu_i) by Welch and Satterthwaite, unrounded; infinite where all are.

    For independent inputs only. Never feed it rounded contributions: JCGM 100 H.1 gives 16.7 unrounded, 17.5 rounded.
    Source: JCGM 100 G.4.1, formula G.2b.
    """
    largest = max((abs(one) for one in contributions), default=0.0)
    if largest == 0:
        return math.inf
    parts = [one / largest for one in contributions]  # fourth powers of very small numbers are nought
    below = math.fsum(one**4 / dof for one, dof in zip(parts, dofs, strict=True))
    return math.inf if below == 0 else math.fsum(one**2 for one in parts) ** 2 / below


def combine(
    components: Sequence[Component], *, correlations: Correlations | None = None, probability: float = TWO_SIGMA
) -> Combined:
    """Combine components: u_c^2 = sum c_i c_j u_i u_j r_ij, and U = k u_c for a coverage probability.

    correlations: r by a pair of names, in either order. With any of them the effective degrees of freedom do not hold
    (JCGM 100 G.4.1): `dof` is then None, and k is that of the normal distribution.
    Raises ValueError for no component, a name that stands twice or nowhere, and correlations that cannot be.
    """
    names = [one.name for one in components]
    if not names or len(set(names)) != len(names):
        raise ValueError("A budget needs components, each with a name of its own.")
    related = _both_ways(correlations or {}, names)
    parts = tuple(one.contribution for one in components)
    products = [
        math.fsum(a * b * (1.0 if i == j else related.get((names[i], names[j]), 0.0)) for j, b in enumerate(parts))
        for i, a in enumerate(parts)
    ]
    variance = math.fsum(products)
    if variance < -_SLACK * math.fsum(a * a for a in parts):
        raise ValueError("These correlations cannot all be true together: the variance comes out below 0.")
    u_c = math.sqrt(max(variance, 0.0))
    independent = not any(related.values())
    dof = effective_dof(parts, [one.dof for one in components]) if independent else None
    if dof is None and all(math.isinf(one.dof) for one in components):
        dof = math.inf
    k = coverage_factor(probability, math.inf if dof is None else dof)
    return Combined(
        u_c=u_c,
        contributions=parts,
        shares=tuple(100 * one / variance if variance > 0 else 0.0 for one in products),
        dof=dof,
        k=k,
        probability=probability,
        expanded=k * u_c,
    )


def _both_ways(correlations: Correlations, names: Sequence[str]) -> dict[tuple[str, str], float]:
    both: dict[tuple[str, str], float] = {}
    for (one, two), r in correlations.items():
        if one not in names or two not in names or one == two:
            raise ValueError(f"A correlation stands between two different components; not between {one} and {two}.")
        if not -1 <= r <= 1:
            raise ValueError(f"A correlation lies between -1 and 1; {one} and {two} have {r}.")
        both[one, two] = both[two, one] = r
    return both
