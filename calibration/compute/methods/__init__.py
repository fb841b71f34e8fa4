"""Every method there is, by its code: a new method is one module and one entry here."""

from __future__ import annotations

from collections.abc import Mapping

from calibration.compute.method import AnyMethod
from calibration.compute.methods import orp, ph

METHODS: Mapping[str, AnyMethod] = {method.code: method for method in (ph.METHOD, orp.METHOD)}
