"""Models of how the share of instruments still in tolerance falls with age.

Exponential and Weibull: NIST/SEMATECH e-Handbook 8.1.6. The mixed exponential and the random walk are models of NCSLI
RP-1 (*from memory*).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from calibration.compute.coverage import below, normal_quantile

Numbers = Sequence[float]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReliabilityModel:
    """A model of R(t), the share still in tolerance at age t.

    `survival` and `age_at` (the age at which R has fallen to a share) take the values of the parameters, which all lie
    above zero, except those named in `signed`. `start` gives their start values from the scale 1 / rate of the
    exponential model: without start values a search can end in a nonsense optimum without a warning.
    """

    name: str
    parameters: tuple[str, ...]
    survival: Callable[[float, Numbers], float]
    age_at: Callable[[float, Numbers], float]
    start: Callable[[float], tuple[float, ...]]
    signed: tuple[str, ...] = ()


def _walk_age(share: float, by: Numbers) -> float:
    return max(0.0, (normal_quantile((1 + share) / 2) ** -2 - by[0]) / by[1])


EXPONENTIAL = ReliabilityModel(
    name="exponential",
    parameters=("rate",),
    survival=lambda t, by: math.exp(-by[0] * t),
    age_at=lambda share, by: -math.log(share) / by[0],
    start=lambda scale: (1 / scale,),
)
WEIBULL = ReliabilityModel(
    name="Weibull",
    parameters=("rate", "shape"),
    survival=lambda t, by: math.exp(-((by[0] * t) ** by[1])),
    age_at=lambda share, by: (-math.log(share)) ** (1 / by[1]) / by[0],
    start=lambda scale: (1 / scale, 1.0),
)
MIXED = ReliabilityModel(
    name="mixed exponential",
    parameters=("rate", "shape"),
    survival=lambda t, by: (1 + by[0] * t) ** -by[1],
    age_at=lambda share, by: (share ** (-1 / by[1]) - 1) / by[0],
    start=lambda scale: (1 / scale, 1.0),
)
RANDOM_WALK = ReliabilityModel(
    name="random walk",
    parameters=("start", "growth"),
    survival=lambda t, by: math.erf(1 / math.sqrt(2 * (by[0] + by[1] * t))),
    age_at=_walk_age,
    start=lambda scale: (0.3, 1 / scale),
)
LOGNORMAL = ReliabilityModel(
    name="lognormal",
    parameters=("mu", "sigma"),
    survival=lambda t, by: below((by[0] - math.log(t)) / by[1]) if t > 0 else 1.0,
    age_at=lambda share, by: math.exp(by[0] + by[1] * normal_quantile(1 - share)),
    start=lambda scale: (math.log(scale), 1.0),
    signed=("mu",),
)
MODELS: Mapping[str, ReliabilityModel] = MappingProxyType(
    {model.name: model for model in (EXPONENTIAL, WEIBULL, MIXED, RANDOM_WALK, LOGNORMAL)}
)
