"""The straight line through the points of one set, line by line: what it says of the instrument, beside the verdict.

y is what was shown, x what was true. Slope and offset with their covariance, the correction at one value, and what a
shown value really is, with Fieller's limits. Sources: JCGM 100:2008, H.3; `inverse_prediction`. The scatter of the
points is all that is known of them here: what the standard has wrong shifts the whole line and is not in it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from calibration.compute.coverage import student_quantile
from calibration.compute.figures import plain, shown
from calibration.compute.inverse_prediction import OUTSIDE, TrueValue, true_value
from calibration.compute.line_fit import Fit, Point, fit
from calibration.compute.method import Line
from calibration.compute.reporting import as_exact, places_of, significant
from calibration.compute.working import Entry, fixed, put_in

LEAST, FOR_LIMITS = 3, 4
"""Different true values that make a line worth drawing, and points that give limits; own judgement."""

SAME, WIDE = Fraction(1, 50), Fraction(1, 10)
"""Share of the range within which two true values are one, and least range as a share of the largest; own judgement."""

PROBABILITY = 0.95
GUIDE, FIELLER = "JCGM 100:2008, H.3", "Fieller's limits, Graybill and Iyer, chapter 6"

TOO_FEW = f"{LEAST} points are too few for limits: {FOR_LIMITS} are needed."
ON_THE_LINE = (
    "Every point lies on the line to the last digit read, so its scatter is smaller than the digits tell. No "
    "uncertainty follows from it."
)
LEVEL = "The line is level: what is shown does not change with what is there, so nothing can be read back from it."


@dataclass(frozen=True, slots=True, kw_only=True)
class LineOfPoints:
    """The line of one set. `at` is the value that correction and reading back are told for, in the unit of x.

    `correction` is to be added to what is shown where the true value is `at`; `u` its standard uncertainty, None
    where no scatter is seen. `back` is what is really there when `at` is shown; None where the line is level.
    """

    fit: Fit
    unit: str
    at: Fraction
    u: float | None
    back: TrueValue | None
    lines: tuple[Line, ...]

    @property
    def n(self) -> int:
        """How many points there are."""
        return len(self.fit.points)

    @property
    def correction(self) -> Fraction:
        """What is to be added to what is shown at `at`."""
        return self.at - self.fit.at(self.at)

    @property
    def limits(self) -> tuple[float, float] | None:
        """The limits of the true value when `at` is shown; None where there are none to give."""
        back = self.back
        if back is None or back.low is None or back.high is None or self.n < FOR_LIMITS or not self.u:
            return None
        return back.low, back.high


def line_of(points: Sequence[Point], *, unit: str, at: Fraction | None = None) -> LineOfPoints | None:
    """Return the line through (true, shown), both in `unit`; None with fewer than three different true values.

    at: the working value; the middle between the lowest and the highest true value where it is left out.
    """
    true = {x for x, _ in points}
    found = fit(points) if len(true) >= LEAST else None
    if found is None:
        return None
    here = (min(true) + max(true)) / 2 if at is None else at
    scattered = bool(found.residual_variance)
    u = found.u_at(here) if scattered else None
    back = true_value(found, here, probability=PROBABILITY) if found.slope else None
    written = _Written(found, unit, here)
    written.all_lines(u=u, back=back)
    return LineOfPoints(fit=found, unit=unit, at=here, u=u, back=back, lines=tuple(written.lines))


def worth_a_line(points: Sequence[Point]) -> bool:
    """Tell whether true values stand at three places of a range or more: grabs of one water again are no line."""
    true = sorted(x for x, _ in points)
    if not true or true[-1] - true[0] < WIDE * max(abs(true[0]), abs(true[-1])):
        return False
    near = SAME * (true[-1] - true[0])
    return 1 + sum(after - before > near for before, after in pairwise(true)) >= LEAST


def says_of(line: LineOfPoints) -> tuple[str, ...]:
    """Return in words what the line says at its value, and what it cannot say."""
    places, value = _places(line.fit), _with(plain(line.at), line.unit)
    added = _with(shown(line.correction, places, plus=True), line.unit)
    sure = "" if line.u is None else f", standard uncertainty {_with(significant(line.u), line.unit)}"
    said = [f"Where {value} is there, the correction to what is shown is {added}{sure}."]
    if line.back is not None:
        really = _with(shown(line.back.x, places), line.unit)
        within = ""
        if line.limits is not None:
            low, high = (shown(edge, places) for edge in line.limits)
            within = f", between {low} and {_with(high, line.unit)} at {100 * PROBABILITY:.0f} %"
        said.append(f"When {value} is shown, the line reads it back as {really}{within}.")
    return (*said, *_warnings(line))


def _warnings(line: LineOfPoints) -> tuple[str, ...]:
    back, said = line.back, []
    if back is None:
        said.append(LEVEL)
    if line.u is None:
        said.append(ON_THE_LINE)
    elif line.n < FOR_LIMITS:
        said.append(TOO_FEW)
    elif back is not None:
        said += [one for one in back.says if one != OUTSIDE]
    if not line.fit.inside(line.at) or (back is not None and back.extrapolated):
        said.append(OUTSIDE)
    return tuple(said)


def _with(text: str, unit: str) -> str:
    return f"pH {text}" if unit == "pH" and text[:1] not in "+−" else f"{text} {unit}".strip()


def _places(line: Fit) -> int:
    """Decimals in the unit of y: as many as show three digits of the scatter, four where there is none."""
    return _decimals(line.residual_sd) if line.residual_sd else 4


def _decimals(value: Fraction | float, digits: int = 3) -> int:
    return max(1, places_of(value, digits))


def _as_read(value: Fraction) -> Entry:
    """Take a point into a line with its own digits, where it has few enough of them."""
    text = plain(value).replace("−", "-")
    return fixed(text) if Fraction(text) == value else Entry(value, 4)


@dataclass(slots=True)
class _Written:
    """The lines, written one after the other; each can be worked out again from what it prints."""

    fit: Fit
    unit: str
    at: Fraction
    lines: list[Line] = field(default_factory=list)

    def step(
        self, text: str, pattern: str, formula: Callable[..., Fraction | float], numbers: dict[str, Entry], places: int,
        *, unit: str = "", plus: bool = False, source: str = "",
    ) -> Entry:  # fmt: skip
        """Write one line; return its value for the next ones, floats at twelve digits."""

        def write(value: Fraction | float) -> str:
            return shown(value, places, plus=plus)

        value = formula(**{name: one.value for name, one in numbers.items()})
        self.lines.append(put_in(text, pattern, formula, numbers, write=write, unit=unit, source=source))
        return Entry(as_exact(value), places)

    def all_lines(self, *, u: float | None, back: TrueValue | None) -> None:
        """Write them all."""
        known = self._through()
        if u is None:
            self._correction(known)
            return
        known |= self._uncertainties(known)
        self._correction(known, u=u)
        if back is not None:
            self._back(known, back)

    def _through(self) -> dict[str, Entry]:
        """Slope and offset, and the distance of each point from the line."""
        points, unit, places = self.fit.points, self.unit, _places(self.fit)
        n = len(points)
        xs = {f"x{i}": _as_read(x) for i, (x, _) in enumerate(points)}
        ys = {f"y{i}": _as_read(y) for i, (_, y) in enumerate(points)}
        known = {"n": fixed(str(n))}
        for name, values, word in (("m", xs, "true"), ("h", ys, "shown")):
            added = " + ".join(f"{{{one}}}" for one in values)
            known[name] = self.step(
                f"Mean of the {word} values, n = {n}", f"({added}) / {{n}}",
                lambda n, **v: sum(v.values(), Fraction(0)) / n, {**values, "n": known["n"]}, places + 1, unit=unit,
            )  # fmt: skip
        squares = " + ".join(f"({{{one}}} − {{m}})²" for one in xs)
        known["w"] = self.step(
            "Squares of the distances of the true values from their mean, added up", squares,
            lambda m, **v: sum(((x - m) ** 2 for x in v.values()), Fraction(0)), {**xs, "m": known["m"]},
            _decimals(self.fit.sxx, 6),
        )  # fmt: skip
        products = " + ".join(f"({{x{i}}} − {{m}}) × ({{y{i}}} − {{h}})" for i in range(n))
        known["b"] = self.step(
            "Slope", f"({products}) / {{w}}",
            lambda m, h, w, **v: sum(((v[f"x{i}"] - m) * (v[f"y{i}"] - h) for i in range(n)), Fraction(0)) / w,
            {**xs, **ys, "m": known["m"], "h": known["h"], "w": known["w"]}, self._slope_places(), source=GUIDE,
        )  # fmt: skip
        known["a"] = self.step(
            "Offset: what the line shows at nought", "{h} − {b} × {m}", lambda h, b, m: h - b * m,
            {key: known[key] for key in "hbm"}, places, unit=unit, plus=True, source=GUIDE,
        )  # fmt: skip
        for i in range(n):
            known[f"r{i}"] = self.step(
                f"Point {i + 1}: its distance from the line", "{y} − ({a} + {b} × {x})",
                lambda y, a, b, x: y - (a + b * x), {"y": ys[f"y{i}"], "x": xs[f"x{i}"], "a": known["a"],
                "b": known["b"]}, places, unit=unit, plus=True,
            )  # fmt: skip
        return known

    def _slope_places(self) -> int:
        found = self.fit.uncertainties
        return _decimals(found[1]) if found is not None and found[1] else 6

    def _uncertainties(self, known: dict[str, Entry]) -> dict[str, Entry]:
        n, places, unit = len(self.fit.points), _places(self.fit), self.unit
        squares = " + ".join(f"{{r{i}}}²" for i in range(n))
        s = self.step(
            f"Scatter about the line, n = {n}, {n - 2} degree{'s' if n > LEAST else ''} of freedom",
            f"√(({squares}) / ({{n}} − 2))", lambda n, **r: math.sqrt(sum(one * one for one in r.values()) / (n - 2)),
            {**{f"r{i}": known[f"r{i}"] for i in range(n)}, "n": known["n"]}, places, unit=unit, source=GUIDE,
        )  # fmt: skip
        parts = {"s": s, "n": known["n"], "m": known["m"], "w": known["w"]}
        self.step(
            "Standard uncertainty of the slope", "{s} / √({w})", lambda s, w: float(s) / math.sqrt(w),
            {"s": s, "w": known["w"]}, self._slope_places(), source=GUIDE,
        )  # fmt: skip
        found = self.fit.uncertainties
        self.step(
            "Standard uncertainty of the offset", "{s} × √(1 / {n} + {m}² / {w})",
            lambda s, n, m, w: float(s) * math.sqrt(1 / n + m * m / w), parts,
            places if found is None else _decimals(found[0]), unit=unit, source=GUIDE,
        )  # fmt: skip
        self.step(
            "Correlation of slope and offset", "−{m} / √({m}² + {w} / {n})",
            lambda m, w, n: -float(m) / math.sqrt(m * m + w / n), {key: parts[key] for key in "mwn"}, 3, source=GUIDE,
        )  # fmt: skip
        return {"s": s}

    def _correction(self, known: dict[str, Entry], *, u: float | None = None) -> None:
        x, value = _as_read(self.at), _with(plain(self.at), self.unit)
        self.step(
            f"Correction where {value} is there: true less shown", "{x} − ({a} + {b} × {x})",
            lambda x, a, b: x - (a + b * x), {"x": x, "a": known["a"], "b": known["b"]}, _places(self.fit),
            unit=self.unit, plus=True, source=GUIDE,
        )  # fmt: skip
        if u is not None:
            self.step(
                "Its standard uncertainty, the covariance of slope and offset in it",
                "{s} × √(1 / {n} + ({x} − {m})² / {w})",
                lambda s, n, x, m, w: float(s) * math.sqrt(1 / n + (x - m) ** 2 / w),
                {"x": x, **{key: known[key] for key in "snmw"}}, _decimals(u), unit=self.unit, source=GUIDE,
            )  # fmt: skip

    def _back(self, known: dict[str, Entry], back: TrueValue) -> None:
        value, places = _with(plain(self.at), self.unit), _places(self.fit)
        z = self.step(
            f"What is there when {value} is shown", "({y} − {a}) / {b}", lambda y, a, b: (y - a) / b,
            {"y": _as_read(self.at), "a": known["a"], "b": known["b"]}, places, unit=self.unit, source=GUIDE,
        )  # fmt: skip
        if len(self.fit.points) < FOR_LIMITS or back.g is None:
            return
        factor = as_exact(student_quantile((1 + PROBABILITY) / 2, self.fit.known_dof))
        t = Entry(factor, 4)
        text = f"Student’s t for {100 * PROBABILITY:.0f} % on both sides, {self.fit.dof} degrees of freedom"
        self.lines.append(Line(text=text, figures="", value=shown(factor, 4), unit="", source="JCGM 100:2008, G.3"))
        g = self.step(
            "How much of the slope may be scatter, g: below 1 there are limits", "({t} × {s} / {b})² / {w}",
            lambda t, s, b, w: (t * s / b) ** 2 / w, {"t": t, **{key: known[key] for key in "sbw"}},
            _decimals(back.g), source=FIELLER,
        )  # fmt: skip
        if back.low is None:
            return
        parts = {"z": z, "g": g, "t": t, **{key: known[key] for key in "smbwn"}}
        for word, sign in (("lower", "−"), ("upper", "+")):
            self.step(
                f"Its {word} limit", f"{{m}} + (({{z}} − {{m}}) {sign if self.fit.slope > 0 else _other(sign)} {{t}} × "
                "{s} / {b} × √(({z} − {m})² / {w} + (1 − {g}) × (1 + 1 / {n}))) / (1 − {g})",
                _edge(1 if (sign == "+") == (self.fit.slope > 0) else -1), parts, places, unit=self.unit,
                source=FIELLER,
            )  # fmt: skip


def _other(sign: str) -> str:
    return "+" if sign == "−" else "−"


def _edge(sign: int) -> Callable[..., float]:
    """Return Fieller's limit on one side: m + ((z - m) -+ t s / b root) / (1 - g)."""

    def edge(**v: Fraction) -> float:
        z, m, g, t, s, b, w, n = (v[key] for key in "zmgtsbwn")
        root = math.sqrt((z - m) ** 2 / w + (1 - g) * (1 + 1 / n))
        return float(m) + (float(z - m) + sign * float(t * s / b) * root) / float(1 - g)

    return edge
