"""Every method there is, by its code: a new method is one module and one entry here."""

from __future__ import annotations

from collections.abc import Mapping

from calibration.compute.method import AnyMethod
from calibration.compute.methods import (
    bench_meter,
    chlorine,
    comparison,
    conductivity,
    current_loop,
    differential_pressure,
    feed_pump,
    flow_comparison,
    flow_volume,
    gas_detector,
    level,
    membrane_integrity,
    orp,
    oxygen,
    particle_counter,
    ph,
    pressure,
    running_meter,
    streaming_current,
    temperature,
    trip_test,
    turbidity,
    uv_intensity,
    uv_transmittance,
    weigh_scale,
)

ALL: tuple[AnyMethod, ...] = (
    *(ph.METHOD, chlorine.METHOD, turbidity.METHOD, conductivity.METHOD, orp.METHOD, oxygen.METHOD),
    *(uv_transmittance.METHOD, uv_intensity.METHOD, particle_counter.METHOD, streaming_current.METHOD),
    *(flow_volume.METHOD, flow_comparison.METHOD, level.METHOD, pressure.METHOD, differential_pressure.METHOD),
    *(temperature.METHOD, current_loop.METHOD, weigh_scale.METHOD, feed_pump.METHOD, running_meter.METHOD),
    *(trip_test.METHOD, gas_detector.METHOD, bench_meter.METHOD, membrane_integrity.METHOD, comparison.METHOD),
)
"""In the order a page offers them."""

METHODS: Mapping[str, AnyMethod] = {method.code: method for method in ALL}


def short_name(method: AnyMethod) -> str:
    """Return the name up to its first comma, as lists show it; all of it where that would name two methods alike."""
    short = method.name.partition(",")[0]
    alike = any(other.code != method.code and other.name.partition(",")[0] == short for other in ALL)
    return method.name if alike else short
