"""The working: the true flow of a measured tank, and the error of rate, HMI, zero and totalizer."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from assets.compute.formulas.flow import error_of_meter, error_of_true, flow_from_level
from calibration.compute.method import Known, Model, Typed, Worked, band_for
from calibration.compute.methods.flow_volume.asks import LIMITS, Volume
from calibration.compute.standards import in_unit
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry


def work(inputs: Volume, known: Known) -> Worked:
    """Work out the true flow from the tank, and the error of rate, HMI, zero and totalizer."""
    steps = Steps()
    change = steps.step(
        "change", "Change of the level", "{b} − {a}" if inputs.way == "up" else "{a} − {b}", _difference(inputs.way),
        {"a": inputs.first, "b": inputs.last}, places=4, unit="m",
    )  # fmt: skip
    area = _area(steps, inputs, known, change)
    steps.step(
        "level_worst", "Both levels off the worst way, in % of the change", "100 × 2 × {w} / {h}",
        lambda w, h: 200 * w / h, {"w": known.number("level_within"), "h": change}, places=2, unit="%",
    )  # fmt: skip
    true = _true(steps, inputs, area, change)
    error = _rate(steps, known, "error", "the rate", inputs.indicated, true)
    steps.step(
        "error_of_meter", "The same in % of the meter", "100 × ({i} − {q}) / {i}", lambda i, q: error_of_meter(i, q),
        {"i": inputs.indicated, "q": true}, places=2, unit="%", plus=True,
    )  # fmt: skip
    _rate(steps, known, "hmi", "the HMI", inputs.hmi, true, face="HMI")
    _zero(steps, inputs, known, true)
    _total(steps, inputs, known, true)
    points = ((true.value, inputs.indicated.value),) if true is not None and inputs.indicated is not None else ()
    return steps.worked(Model(kind="gain", points=points), next_value={"error": value_of(error)})


def _difference(way: str) -> Callable[..., Fraction]:
    return (lambda a, b: b - a) if way == "up" else (lambda a, b: a - b)


def written_area(inputs: Volume, known: Known) -> Fraction | None:
    """Return the area of the tank, m²: of its certificate, else of the tag."""
    used = in_unit(known.standards.get(inputs.tank), "m²")
    return used.nominal if used is not None else known.number("area")


def _area(steps: Steps, inputs: Volume, known: Known, change: Entry | None) -> Entry | None:
    if inputs.volume_first is None or inputs.volume_last is None:
        area = written_area(inputs, known)
        return steps.given("area", "Area of the tank", area, places=3, unit="m²", source="measured tank")
    volume = steps.step(
        "volume", "Volume between the two levels", "{b} − {a}" if inputs.way == "up" else "{a} − {b}",
        _difference(inputs.way), {"a": inputs.volume_first, "b": inputs.volume_last}, places=3, unit="m³",
        source="table of the tank",
    )  # fmt: skip
    return steps.step(
        "area", "Mean area between the two levels", "{v} / {h}", lambda v, h: v / h, {"v": volume, "h": change},
        places=3, unit="m²", source="table of the tank",
    )  # fmt: skip


def _true(steps: Steps, inputs: Volume, area: Entry | None, change: Entry | None) -> Entry | None:
    sign = "+" if inputs.way == "up" else "−"
    return steps.step(
        "true", "True mean flow, the leak put back or taken off",
        "{area} × ({h} " + sign + " {leak} × {t} / 3600) × 3600 / {t}",
        lambda area, h, leak, t: flow_from_level(area, h, t, leak, filling=inputs.way == "up"),
        {"area": area, "h": change, "leak": inputs.leak, "t": inputs.seconds}, places=2, unit="m³/h",
    )  # fmt: skip


def _rate(
    steps: Steps, known: Known, name: str, of: str, read: Typed | None, true: Entry | None, *, face: str = "display"
) -> Entry | None:
    band = band_for(LIMITS, known, name)
    place = "" if face == "display" else f" at {of}"
    error = steps.step(
        name, f"Error{place} in % of the true flow; {limit_said(band)}", "100 × ({i} − {q}) / {q}",
        lambda i, q: error_of_true(i, q), {"i": read, "q": true}, places=2, unit="%", plus=True,
        beside=band, source=band.source, label=f"error of {of}",
    )  # fmt: skip
    steps.judge(name, f"error of {of}", error, band, of="true flow", face=face, standard=value_of(true))
    return error


def _zero(steps: Steps, inputs: Volume, known: Known, true: Entry | None) -> None:
    band = band_for(LIMITS, known, "zero")
    zero = steps.step(
        "zero", f"Meter with the valve shut, in % of the true flow; {limit_said(band)}", "100 × {z} / {q}",
        lambda z, q: 100 * z / q, {"z": inputs.zero, "q": true}, places=2, unit="%", plus=True, beside=band,
        source=band.source,
    )  # fmt: skip
    steps.judge("zero", "meter with the valve shut", zero, band, of="true flow", standard=Fraction(0))


def _total(steps: Steps, inputs: Volume, known: Known, true: Entry | None) -> None:
    counted = steps.step(
        "total_counted", "Counted by the totalizer", "{b} − {a}", lambda a, b: b - a,
        {"a": inputs.total_first, "b": inputs.total_last}, places=2, unit="m³",
    )  # fmt: skip
    through = steps.step(
        "through", "Went through", "{q} × {t} / 3600", lambda q, t: q * t / 3600,
        {"q": true if counted is not None else None, "t": inputs.seconds}, places=2, unit="m³",
    )  # fmt: skip
    band = band_for(LIMITS, known, "total")
    error = steps.step(
        "total", f"Error of the totalizer; {limit_said(band)}", "100 × ({c} − {v}) / {v}",
        lambda c, v: error_of_true(c, v), {"c": counted, "v": through}, places=2, unit="%", plus=True, beside=band,
        source=band.source,
    )  # fmt: skip
    steps.judge("total", "error of the totalizer", error, band, of="true volume", standard=value_of(through))
