"""Values worked out from readings, on which routines by condition hang: strainer, membrane, pump, twins.

Each says its inputs and its formula; where it cannot be worked out it is None and says why.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from assets.compute.formulas.strainer import LEAST_SHARE, at_reference_flow
from assets.compute.formulas.water import STANDARD_GRAVITY
from assets.compute.readings.facts import plain
from assets.compute.readings.running import Shared
from assets.compute.transcendental import power

WATER_DENSITY = Fraction("999.7")
"""kg/m^3 of water at 10 degC (CIPM-recommended formula); between 0 and 25 degC it is within 0.3 %."""

VISCOSITY_TERMS = (("280.68", "-1.9"), ("511.45", "-7.7"), ("61.131", "-19.6"), ("0.45903", "-40"))
"""(factor in µPa s, power) of T / 300 K: IAPWS formulation for liquid water at 0.1 MPa, from memory."""

REFERENCE_TEMPERATURE = Fraction(20)
"""degC to which membranes are brought: common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Input:
    """One number that went in."""

    name: str
    value: Fraction | None
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Derived:
    """A value worked out: what it is, None where it cannot be and `why`; its inputs, formula and source; a doubt."""

    what: str
    value: Fraction | None
    unit: str
    inputs: tuple[Input, ...]
    formula: str
    source: str
    why: str = ""
    doubt: str = ""


def strainer_rise(
    pressure: Fraction | None,
    flow: Fraction | None,
    *,
    reference: Fraction,
    clean: Fraction,
    taps_head: Fraction = Fraction(0),
    least_share: Fraction = LEAST_SHARE,
) -> Derived:
    """Return how much a strainer's differential pressure at the reference flow lies above that of the clean strainer.

    pressure: as shown, kPa; taps_head: what the height between the taps adds to it, kPa; clean: at the reference flow,
    kPa; flow, reference: m^3/h. None below 0.7 of the reference flow (own judgement). Raises ValueError for a
    reference flow that is not above zero.
    """
    if reference <= 0:
        raise ValueError("The reference flow of a strainer lies above zero.")
    inputs = (
        Input(name="differential pressure", value=pressure, unit="kPa"),
        Input(name="flow", value=flow, unit="m³/h"),
        Input(name="reference flow", value=reference, unit="m³/h"),
        Input(name="clean, at the reference flow", value=clean, unit="kPa"),
        Input(name="height between the taps", value=taps_head, unit="kPa"),
    )
    value, why, doubt = None, _missing(inputs), ""
    if pressure is not None and flow is not None:
        if flow <= 0 or flow < least_share * reference:
            why = (
                f"At {plain(flow)} m³/h, below {plain(100 * least_share)} % of {plain(reference)}, it says too little."
            )
        else:
            own = pressure - taps_head
            at_reference = at_reference_flow(own, flow, reference)
            # None there means below 0.7; a site that sets a lower share has said that it still counts.
            value = (own * (reference / flow) ** 2 if at_reference is None else at_reference) - clean
            doubt = "No pressure lost at flow: a blocked tapping or a missing screen?" if own <= 0 else ""
    return Derived(
        what="differential pressure above clean, at the reference flow",
        value=value,
        unit="kPa",
        inputs=inputs,
        formula="(dp − taps) × (Qref / Q)² − clean",
        source="dp rises with the square of the flow, definition of turbulent loss; the least flow is own judgement",
        why=why,
        doubt=doubt,
    )


@lru_cache(maxsize=1024)
def viscosity(temperature: Fraction) -> Fraction:
    """Return the dynamic viscosity of water, mPa s, at a temperature in degC, 0 to 40.

    Source: IAPWS formulation at 0.1 MPa, from memory: 280.68 t^-1.9 + 511.45 t^-7.7 + 61.131 t^-19.6 + 0.45903 t^-40
    µPa s, t = T / 300 K. Raises ValueError outside the range.
    """
    if not 0 <= temperature <= 40:
        raise ValueError("The viscosity of water is worked out from 0 to 40 °C here.")
    t = (temperature + Fraction("273.15")) / 300
    micro = sum((Fraction(factor) * power(t, Fraction(raised)) for factor, raised in VISCOSITY_TERMS), Fraction(0))
    return micro / 1000


@dataclass(frozen=True, slots=True, kw_only=True)
class Filtering:
    """How a membrane filtered at one time: filtrate, m^3/h; pressure across it, kPa; water, degC. None: not read."""

    flow: Fraction | None
    pressure: Fraction | None
    temperature: Fraction | None


def membrane_decline(now: Filtering, clean: Filtering, *, at: Fraction = REFERENCE_TEMPERATURE) -> Derived:
    """Return by how much the flow of a membrane at equal pressure and temperature lies below that when it was clean, %.

    100 (1 - K / K clean), K = flow / pressure x viscosity(T) / viscosity(`at`), `at` in degC. For membranes whose
    osmotic pressure does not count (micro- and ultrafiltration).
    """
    inputs = (*_filtering("now", now), *_filtering("clean", clean))
    why, value = _missing(inputs), None
    if not why:
        try:
            one, other = _specific(now, at), _specific(clean, at)
            value, why = (100 * (1 - one / other), "") if other > 0 else (None, "The clean membrane gave no water.")
        except ValueError as wrong:
            why = str(wrong)
    return Derived(
        what="membrane below its clean flow, at equal pressure and temperature",
        value=value,
        unit="%",
        inputs=inputs,
        formula="100 × (1 − K / K clean), K = flow / pressure × viscosity(T) / viscosity(20 °C)",
        source="viscosity of water by IAPWS, from memory; bringing to 20 °C is common practice",
        why=why,
    )


def _filtering(name: str, run: Filtering) -> tuple[Input, ...]:
    return (
        Input(name=f"filtrate, {name}", value=run.flow, unit="m³/h"),
        Input(name=f"pressure across it, {name}", value=run.pressure, unit="kPa"),
        Input(name=f"water, {name}", value=run.temperature, unit="°C"),
    )


def _specific(run: Filtering, at: Fraction) -> Fraction:
    assert run.flow is not None
    assert run.pressure is not None
    assert run.temperature is not None
    if run.pressure <= 0:
        raise ValueError("Without pressure across the membrane there is nothing to compare.")
    return run.flow / run.pressure * viscosity(run.temperature) / viscosity(at)


def pump_head(
    discharge: Fraction | None,
    suction: Fraction | None,
    *,
    gauges_apart: Fraction = Fraction(0),
    velocity_head: Fraction = Fraction(0),
    density: Fraction = WATER_DENSITY,
) -> Derived:
    """Return the head of a pump, m: (p2 - p1) / (rho g) + height between the gauges + what the velocity adds.

    discharge, suction: gauge pressures, kPa, suction below zero where it sucks; gauges_apart: how much higher the
    discharge gauge is, m; velocity_head: (v2^2 - v1^2) / 2g, m, nought for equal pipes; density: kg/m^3.
    """
    inputs = (
        Input(name="discharge pressure", value=discharge, unit="kPa"),
        Input(name="suction pressure", value=suction, unit="kPa"),
        Input(name="discharge gauge above the other", value=gauges_apart, unit="m"),
        Input(name="velocity head", value=velocity_head, unit="m"),
        Input(name="density", value=density, unit="kg/m³"),
    )
    value = None
    if discharge is not None and suction is not None:
        value = (discharge - suction) * 1000 / (density * STANDARD_GRAVITY) + gauges_apart + velocity_head
    return Derived(
        what="head of the pump",
        value=value,
        unit="m",
        inputs=inputs,
        formula="(p2 − p1) / (ρ g) + height between the gauges + velocity head",
        source="definition of total head",
        why=_missing(inputs),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """The curve of a pump: points (flow m^3/h, head m), rising in flow; speed it was drawn at, None where not known."""

    points: tuple[tuple[Fraction, Fraction], ...]
    speed: Fraction | None = None

    def __post_init__(self) -> None:
        if len(self.points) < 2 or any(other[0] <= one[0] for one, other in pairwise(self.points)):
            raise ValueError("The curve of a pump has at least two points, each at more flow than the one before.")

    def head_at(self, flow: Fraction) -> Fraction | None:
        """Return the head, m, on the straight line between two points; None outside them."""
        for (low, below), (high, above) in pairwise(self.points):
            if low <= flow <= high:
                return below + (above - below) * (flow - low) / (high - low)
        return None


def percent_of_curve(
    head: Fraction | None, flow: Fraction | None, curve: Curve, *, speed: Fraction | None = None
) -> Derived:
    """Return the head of a pump in % of its curve at the same flow and speed.

    head: m; flow: m^3/h; speed: in the unit of the curve's, None where the pump turns as the curve was drawn.
    At another speed the curve is moved by the affinity laws: flow with the speed, head with its square (handbooks; for
    moderate changes of speed). None outside the curve's points.
    """
    inputs = (
        Input(name="head", value=head, unit="m"),
        Input(name="flow", value=flow, unit="m³/h"),
        Input(name="speed over that of the curve", value=_ratio(curve, speed), unit=""),
    )
    value, why = None, _missing(inputs)
    ratio = _ratio(curve, speed)
    if head is not None and flow is not None and ratio is not None:
        on_curve = curve.head_at(flow / ratio)
        if on_curve is None:
            why = "This flow lies outside the points of the curve; nothing is guessed beyond them."
        elif on_curve <= 0:
            why = "The curve has no head at this flow."
        else:
            value = 100 * head / (on_curve * ratio**2)
    return Derived(
        what="head in per cent of the pump's curve",
        value=value,
        unit="%",
        inputs=inputs,
        formula="100 × H / (r² × Hcurve(Q / r)), r = speed / speed of the curve",
        source="affinity laws of centrifugal pumps, handbooks; straight lines between the points are own judgement",
        why=why,
    )


def _ratio(curve: Curve, speed: Fraction | None) -> Fraction | None:
    """Return the speed over that of the curve: 1 where none is given, None where it cannot be told."""
    if speed is None:
        return Fraction(1)
    return speed / curve.speed if curve.speed is not None and curve.speed > 0 and speed > 0 else None


def twin_share(shared: Shared | None) -> Derived:
    """Return the share of the running that the first of two machines had, %."""
    inputs = (
        Input(name="hours of the first", value=shared.one_hours if shared else None, unit="h"),
        Input(name="hours of the second", value=shared.other_hours if shared else None, unit="h"),
    )
    share = shared.share if shared else None
    why = "The two are not covered for the same hours." if shared is None else ""
    return Derived(
        what="share of the first machine",
        value=None if share is None else 100 * share,
        unit="%",
        inputs=inputs,
        formula="100 × first / (first + second)",
        source="definition",
        why=why or ("Neither ran." if share is None else ""),
    )


def _missing(inputs: Sequence[Input]) -> str:
    gone = [one.name for one in inputs if one.value is None]
    return f"Not read: {', '.join(gone)}." if gone else ""
