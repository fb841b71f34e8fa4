"""The uncertainty budget of one judged value: its components, what they come to, and the lines that show it.

No figure is built in: each component names who states it (the certificate of the lot, the digits typed, the repeats,
the site). Without the uncertainty of the standard there is no budget, and a page says "uncertainty not stated".
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from assets.compute.transcendental import square_root
from calibration.compute.coverage import TWO_SIGMA
from calibration.compute.figures import plain, shown
from calibration.compute.method import Line
from calibration.compute.reporting import as_exact, places_of, shown_up, significant
from calibration.compute.uncertainty import (
    DIVISOR_SQUARED,
    Combined,
    Component,
    Correlations,
    Distribution,
    combine,
    repeats,
)
from calibration.compute.working import Entry, put_in

GUIDE = "JCGM 100:2008"
DIGITS = 3
TWO_SIGMA_TEXT = "95.45 %"
EXPANDED = "Expanded uncertainty U = k × u_c, "
"""How the last line of a budget begins; the name of the judged value follows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What it comes to: the expanded uncertainty in the unit of the judged value, its k, the lines that show it.

    `expanded` is exact (U at twelve significant digits), so that a guard band compares exactly; it is never rounded to
    what the last line shows.
    """

    expanded: Fraction
    k: float
    lines: tuple[Line, ...]
    name: str = ""
    unit: str = ""
    components: tuple[Component, ...] = ()
    combined: Combined | None = None


def from_certificate(
    expanded: Fraction | None, k: Fraction | None, name: str, source: str, *, sensitivity: Fraction = Fraction(1)
) -> Component | None:
    """Return the component of a certificate: U / k, type B; None where either is not stated.

    k is taken as it stands and the uncertainty as known (endless degrees of freedom). Raises ValueError where one of
    them is not above 0: a certificate that claims no uncertainty states none.
    """
    if expanded is None or k is None:
        return None
    if expanded <= 0 or k <= 0:
        raise ValueError(f"{name}: the uncertainty on a certificate and its k are above 0.")
    return Component(
        name=name, source=source, kind="B", stated=expanded, divisor_squared=k * k, sensitivity=sensitivity
    )


def from_resolution(
    step: Fraction, name: str, source: str = "last digit typed", *, sensitivity: Fraction = Fraction(1)
) -> Component:
    """Return the component of a display that shows whole steps: step / sqrt(12), type B (JCGM 100 F.2.2.1).

    step: in the unit of the display, 0.01 for a reading typed as 7.02. Raises ValueError unless it is above 0.
    """
    if step <= 0:
        raise ValueError(f"{name}: the step of a display is above 0.")
    squared = Fraction(DIVISOR_SQUARED["resolution"])
    return Component(name=name, source=source, kind="B", stated=step, divisor_squared=squared, sensitivity=sensitivity)


def from_repeats(
    values: Sequence[Fraction], name: str, source: str = "repeated readings", *, sensitivity: Fraction = Fraction(1)
) -> Component:
    """Return the component of the mean of repeated readings: s / sqrt(n), type A, n - 1 degrees of freedom.

    Raises ValueError for fewer than two readings.
    """
    found = repeats(values)
    variance = sum(((value - found.mean) ** 2 for value in values), Fraction(0)) / found.dof
    return Component(
        name=name,
        source=f"{source}, n = {found.n}",
        kind="A",
        stated=square_root(variance),
        divisor_squared=Fraction(found.n),
        sensitivity=sensitivity,
        dof=found.dof,
    )


def from_half_width(
    half_width: Fraction,
    name: str,
    source: str,
    *,
    distribution: Distribution = "rectangular",
    sensitivity: Fraction = Fraction(1),
) -> Component:
    """Return the component of what lies within plus or minus `half_width`, type B (JCGM 100 4.3.7 to 4.3.9).

    'normal' takes the figure as a standard uncertainty already. Raises ValueError for a negative half-width.
    """
    squared = Fraction(DIVISOR_SQUARED[distribution])
    return Component(
        name=name, source=source, kind="B", stated=half_width, divisor_squared=squared, sensitivity=sensitivity
    )


def budget_of(
    components: Sequence[Component | None],
    *,
    unit: str,
    name: str,
    correlations: Correlations | None = None,
    probability: float = TWO_SIGMA,
) -> Budget | None:
    """Combine the components of one judged value; None where one is not stated, or all come to nothing.

    unit: of the judged value and of every sensitivity times its component; name: of the judged value, in words.
    Errors as `combine`.
    """
    stated = tuple(one for one in components if one is not None)
    if len(stated) < len(components) or not any(one.contribution for one in stated):
        return None
    combined = combine(stated, correlations=correlations, probability=probability)
    if combined.u_c == 0:
        return None
    lines = (
        *(_component_line(one, share, unit) for one, share in zip(stated, combined.shares, strict=True)),
        _combined_line(stated, combined, correlations or {}, unit=unit, name=name),
        *_dof_lines(stated, combined),
        _factor_line(combined),
        _expanded_line(combined, unit=unit, name=name),
    )
    return Budget(
        expanded=as_exact(combined.expanded),
        k=combined.k,
        lines=lines,
        name=name,
        unit=unit,
        components=stated,
        combined=combined,
    )


def several(names: Sequence[str]) -> str:
    """Write names that share all but their last word once: 'error of point 1; 2; 3'."""
    first, *others = names
    stem = first.rpartition(" ")[0] + " "
    return "; ".join([first, *(name.removeprefix(stem) for name in others)])


def expanded_in(lines: Iterable[Line]) -> dict[str, str]:
    """Return the expanded uncertainties that the lines of budgets give, as shown, by the name of what they are of."""
    return {
        name: line.value
        for line in lines
        if line.text.startswith(EXPANDED)
        for name in each_of(line.text.removeprefix(EXPANDED))
    }


def each_of(text: str) -> tuple[str, ...]:
    """Return the names that `several` wrote, each in full, beside those that it left as they were."""
    first, *others = text.split("; ")
    stem = first.rpartition(" ")[0]
    return (first, *others, *(f"{stem} {other}" for other in others))


def lines_together(budgets: Iterable[Budget]) -> tuple[Line, ...]:
    """Return the lines of several budgets; those that differ in nothing but their names are written once."""
    alike: dict[tuple[Line, ...], list[Budget]] = {}
    for one in budgets:
        alike.setdefault(tuple(_named(line, one.name, "") for line in one.lines), []).append(one)
    return tuple(
        _named(line, group[0].name, several([one.name for one in group]))
        for group in alike.values()
        for line in group[0].lines
    )


def _named(line: Line, name: str, other: str) -> Line:
    return replace(line, text=line.text.removesuffix(name) + other) if name and line.text.endswith(name) else line


def _entry(value: Fraction | float) -> Entry:
    exact = as_exact(value)
    return Entry(exact, places_of(exact, DIGITS), exact=_fits(exact))


def _fits(value: Fraction) -> bool:
    """Tell whether the digits of show already give the number exactly, so that none is added."""
    places = places_of(value, DIGITS)
    return Fraction(value * 10**places).denominator == 1


def _whole(value: Fraction) -> Entry:
    """Take a stated figure into a line with every digit it was stated with, where six decimals hold them."""
    text = plain(value)
    places = len(text.partition(".")[2])
    return Entry(value, places, exact=value * 10**places == int(value * 10**places))


def _root(value: Fraction | float) -> float:
    return math.sqrt(value)


def _component_line(one: Component, share: float, unit: str) -> Line:
    """Write u of one component as it was obtained, with its share of the variance, as the guide tables them."""
    root = square_root(one.divisor_squared)
    plain_divisor = root * root == one.divisor_squared
    divisor = "{d}" if plain_divisor else "√{d}"
    pattern = "{a}" if one.divisor_squared == 1 else "{a} / " + divisor
    entries = {"a": _whole(as_exact(one.stated)), "d": _whole(root if plain_divisor else one.divisor_squared)}
    sensitivity = abs(as_exact(one.sensitivity))
    if sensitivity != 1:
        pattern = "{c} × " + pattern
        entries["c"] = _entry(sensitivity)

    def contribution(*, a: Fraction, d: Fraction, c: Fraction = Fraction(1)) -> Fraction | float:
        return c * a / d if plain_divisor else float(c * a) / _root(d)

    how = f"type {one.kind}, {shown(as_exact(share), 0)} % of the variance; {one.source}"
    return put_in(
        f"Standard uncertainty, {one.name}", pattern, contribution, entries, write=significant, unit=unit, source=how
    )


def _combined_line(
    components: tuple[Component, ...], combined: Combined, correlations: Correlations, *, unit: str, name: str
) -> Line:
    """Write u_c as the root of the squares, with a term for each pair that is correlated."""
    names = [one.name for one in components]
    pairs = [(names.index(one), names.index(two), r) for (one, two), r in correlations.items() if r]
    signed = combined.contributions if pairs else tuple(abs(one) for one in combined.contributions)
    entries = {f"u{n}": _entry(one) for n, one in enumerate(signed)}
    terms = [f"{{u{n}}}²" for n in range(len(signed))]
    for n, (i, j, r) in enumerate(pairs):
        entries[f"r{n}"] = _entry(r)
        terms.append(f"2 × {{r{n}}} × {{u{i}}} × {{u{j}}}")

    def together(**at: Fraction) -> float:
        squares = sum((at[f"u{n}"] ** 2 for n in range(len(signed))), Fraction(0))
        crossed = (2 * at[f"r{n}"] * at[f"u{i}"] * at[f"u{j}"] for n, (i, j, _) in enumerate(pairs))
        return _root(max(Fraction(0), sum(crossed, squares)))

    text = f"Combined standard uncertainty u_c, {name}"
    pattern = f"√({' + '.join(terms)})"
    return put_in(text, pattern, together, entries, write=significant, unit=unit, source=f"{GUIDE}, 5.1.2 and 5.2.2")


def _dof_lines(components: tuple[Component, ...], combined: Combined) -> tuple[Line, ...]:
    """Write the effective degrees of freedom where there are any to count."""
    if combined.dof is None:
        text = "Effective degrees of freedom: not worked out, for the formula holds for independent components only"
        return (Line(text=text, figures="", value="", unit="", source=f"{GUIDE}, G.4.1"),)
    if math.isinf(combined.dof):
        return ()
    counted = [
        (n, abs(part), one.dof)
        for n, (one, part) in enumerate(zip(components, combined.contributions, strict=True))
        if not math.isinf(one.dof) and part
    ]
    entries = {"uc": _entry(combined.u_c)}
    for n, part, dof in counted:
        entries[f"u{n}"], entries[f"n{n}"] = _entry(part), _entry(dof)

    def welch(**at: Fraction) -> Fraction:
        return at["uc"] ** 4 / sum((at[f"u{n}"] ** 4 / at[f"n{n}"] for n, _, _ in counted), Fraction(0))

    below = " + ".join(f"{{u{n}}}⁴ / {{n{n}}}" for n, _, _ in counted)
    pattern = f"{{uc}}⁴ / ({below})"
    text = "Effective degrees of freedom (Welch-Satterthwaite)"
    return (put_in(text, pattern, welch, entries, write=significant, unit="", source=f"{GUIDE}, G.4.1"),)


def _covered(probability: float) -> str:
    return TWO_SIGMA_TEXT if probability == TWO_SIGMA else f"{plain(as_exact(100 * probability), most=2)} %"


def _factor_line(combined: Combined) -> Line:
    """Write k, in words: no formula by hand gives it."""
    dof = math.inf if combined.dof is None else combined.dof
    told = "the normal distribution" if math.isinf(dof) else f"Student's t, {significant(dof)} degrees of freedom"
    return Line(
        text=f"Coverage factor k for {_covered(combined.probability)}, {told}",
        figures="",
        value=significant(combined.k),
        unit="",
        source=f"{GUIDE}, annex G",
    )


def _expanded_line(combined: Combined, *, unit: str, name: str) -> Line:
    def product(*, k: Fraction, u: Fraction) -> Fraction:
        return k * u

    entries = {"k": _entry(combined.k), "u": _entry(combined.u_c)}
    return put_in(
        EXPANDED + name,
        "{k} × {u}",
        product,
        entries,
        write=shown_up,
        unit=unit,
        source="rounded up for show, used unrounded",
    )
