"""Intervals stepped from one result to the next: the staircase, the simple response and the incremental response.

The staircase is method 1 of ILAC-G24 / OIML D 10 (the rule *from memory*; neither edition prints an example). Simple
and incremental response are methods A1 and A2 of NCSLI RP-1 (*from memory*).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.studies.proposal import FEWEST, AsFound, Clamps, Proposal, not_enough, only_as_found


@dataclass(frozen=True, slots=True, kw_only=True)
class Steps:
    """How the staircase moves; the factors are common practice without a source, the 80 % is the guide's own."""

    near: Fraction = Fraction(4, 5)
    longer: Fraction = Fraction(11, 10)
    shorter: Fraction = Fraction(7, 10)


def staircase(
    results: Sequence[AsFound], *, current: Fraction, clamps: Clamps, steps: Steps | None = None
) -> Proposal | None:
    """Return the next interval from the newest as found result; None when there is none yet.

    Longer after an error within 80 % of its limit, the same up to the limit, shorter beyond it. Days.
    """
    found = only_as_found(results)
    if not found:
        return None
    by, last = steps or Steps(), found[-1]
    if not last.inside:
        factor, why = by.shorter, "The last as found result lay outside its limit, so the interval is shortened."
    elif abs(last.error) <= by.near * last.limit:
        percent = float(100 * by.near)
        factor, why = by.longer, f"The last as found result lay within {percent:g} % of its limit."
    else:
        factor, why = Fraction(1), "The last as found result lay inside its limit, but near it."
    asked = current * factor
    days = clamps.held(asked)
    return Proposal(
        days=days, current=current, method="staircase", n=len(found), why=why, clamps=clamps, clamped=days != asked
    )


def balancing_cut(*, extension: Fraction, target: Fraction) -> float:
    """Return the cut b after a failure that balances an extension a: (1 + a)^R (1 - b)^(1 - R) = 1.

    With it an instrument that is in tolerance as often as the target R keeps its interval in the long run.
    """
    if extension <= 0 or not 0 < target < 1:
        raise ValueError("The extension is above zero and the target lies between 0 and 1.")
    return 1 - math.exp(-float(target / (1 - target)) * math.log1p(float(extension)))


def simple_response(
    results: Sequence[AsFound], *, current: Fraction, target: Fraction, extension: Fraction, clamps: Clamps
) -> Proposal:
    """Propose I (1 + a) after a newest result in tolerance, I (1 - b) after one outside, b balancing a; days."""
    found = only_as_found(results)
    cut = Fraction(balancing_cut(extension=extension, target=target))
    if len(found) < FEWEST:
        return _too_few("simple response", len(found), current, clamps)
    asked = current * (1 + extension if found[-1].inside else 1 - cut)
    return _answered(asked, found, method="simple response", current=current, clamps=clamps)


def incremental_response(results: Sequence[AsFound], *, begin: Fraction, target: Fraction, clamps: Clamps) -> Proposal:
    """Propose the end of the path of incremental responses, in days, from the interval the history began with."""
    found = only_as_found(results)
    path = incremental_path(found, begin=begin, target=target, clamps=clamps)
    if len(found) < FEWEST:
        return _too_few("incremental response", len(found), path[-1] if path else begin, clamps)
    return _answered(path[-1], found, method="incremental response", current=path[-2], clamps=clamps)


def incremental_path(
    results: Sequence[AsFound], *, begin: Fraction, target: Fraction, clamps: Clamps
) -> tuple[Fraction, ...]:
    """Return the interval in days after each result: I (1 + D (1 - R)) in tolerance, I (1 - D R) outside.

    D begins at 1 and halves whenever the result differs from the one before it; every step is held by the clamps,
    since the first failure alone would otherwise take nearly the whole interval.
    """
    inside = [one.inside for one in only_as_found(results)]
    step, days, path = Fraction(1), begin, []
    for at, good in enumerate(inside):
        if at and good != inside[at - 1]:
            step /= 2
        days = clamps.held(days * (1 + step * (1 - target) if good else 1 - step * target))
        path.append(days)
    return tuple(path)


def _too_few(method: str, n: int, current: Fraction, clamps: Clamps) -> Proposal:
    why = f"below {FEWEST} as found results only the staircase speaks; there {'is' if n == 1 else 'are'} {n}."
    return not_enough(current=current, method=method, n=n, clamps=clamps, why=why)


def _answered(asked: Fraction, found: Sequence[AsFound], *, method: str, current: Fraction, clamps: Clamps) -> Proposal:
    days = clamps.held(asked)
    why = f"The last as found result lay {'inside' if found[-1].inside else 'outside'} its limit."
    held = days != asked or days in (clamps.shortest, clamps.longest)
    return Proposal(days=days, current=current, method=method, n=len(found), why=why, clamps=clamps, clamped=held)
