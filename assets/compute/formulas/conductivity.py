"""Conductivity at another temperature: the straight compensation and the curve of natural water."""

from __future__ import annotations

from bisect import bisect_left
from fractions import Fraction
from operator import itemgetter

NATURAL_WATER = """
1.918 1.912 1.906 1.899 | 1.857 1.851 1.845 1.840 | 1.800 1.794 1.788 1.783 | 1.745 1.740 1.734 1.729
1.693 1.688 1.683 1.678 | 1.643 1.638 1.634 1.629 | 1.596 1.591 1.587 1.582 | 1.551 1.547 1.542 1.538
1.508 1.504 1.500 1.496 | 1.467 1.463 1.459 1.455 | 1.428 1.424 1.420 1.416 | 1.390 1.387 1.383 1.379
1.354 1.351 1.347 1.344 | 1.320 1.317 1.313 1.310 | 1.287 1.284 1.281 1.278 | 1.256 1.253 1.249 1.246
1.225 1.222 1.219 1.216 | 1.196 1.193 1.191 1.188 | 1.168 1.166 1.163 1.160 | 1.141 1.139 1.136 1.134
1.116 1.113 1.111 1.108 | 1.091 1.088 1.086 1.083 | 1.067 1.064 1.062 1.060 | 1.044 1.041 1.039 1.037
1.021 1.019 1.017 1.015 | 1.000 0.998 0.996 0.994 | 0.979 0.977 0.975 0.973 | 0.959 0.957 0.955 0.953
0.940 0.938 0.936 0.934 | 0.921 0.920 0.918 0.916 | 0.903 0.902 0.900 0.898 | 0.886 0.884 0.883 0.881
0.869 0.867 0.866 0.864 | 0.853 0.851 0.850 0.848 | 0.837 0.835 0.834 0.832 | 0.822 0.820 0.819 0.817
"""
"""Factor to 25 degC, from 0 degC on: for each degree, parted by bars, the values at .0, .1, .2 and .3 degC.
ISO 7888 / EN 27888, read second-hand in a reprint."""

_ROWS = tuple(
    (Fraction(degree) + Fraction(tenth, 10), Fraction(text))
    for degree, group in enumerate(" | ".join(NATURAL_WATER.split("\n")).strip(" |").split("|"))
    for tenth, text in enumerate(group.split())
)
TWENTY = Fraction("1.116")
"""The factor at 20 degC, by which one to 20 degC is divided."""


def linear_factor(temperature: Fraction, per_degree: Fraction, reference: Fraction = Fraction(25)) -> Fraction:
    """Return what a reading is divided by: 1 + a (T - reference); a in 1/K (0.0191 for 1.91 % a degree), T in degC."""
    return 1 + per_degree * (temperature - reference)


def natural_factor(temperature: Fraction) -> Fraction:
    """Return what a reading of natural water is multiplied by to get its value at 25 degC, linear between rows.

    Raises ValueError outside 0 to 35.3 degC.
    """
    if not _ROWS[0][0] <= temperature <= _ROWS[-1][0]:
        raise ValueError("The curve of natural water goes from 0 to 35.3 °C.")
    place = bisect_left(_ROWS, temperature, key=itemgetter(0))
    above = _ROWS[place]
    if above[0] == temperature:
        return above[1]
    below = _ROWS[place - 1]
    return below[1] + (above[1] - below[1]) * (temperature - below[0]) / (above[0] - below[0])


def cell_constant(standard: Fraction, conductance: Fraction) -> Fraction:
    """Return the cell constant, 1/cm: conductivity of the standard (µS/cm) by the conductance measured (µS)."""
    return standard / conductance
