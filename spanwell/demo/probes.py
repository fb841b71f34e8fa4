"""A pH probe that ages: what its electrode gives and its display shows, so that the demo's checks hang together.

Pure arithmetic over typed figures; the only chance in it comes from the generator it is given.
"""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import dataclass, field

NERNST = 0.1984214
"""mV per kelvin and pH: ln(10) R / F with the constants of the 2019 SI, times 1000."""

KELVIN = 273.15


def theory(celsius: float) -> float:
    """Slope of an ideal electrode at a temperature in degC, mV per pH."""
    return NERNST * (celsius + KELVIN)


@dataclass(frozen=True, slots=True)
class State:
    """Slope as a share of theory and offset at pH 7 in mV, of an electrode or as a transmitter believes it."""

    slope: float
    offset: float


@dataclass(slots=True)
class Probe:
    """One electrode with its transmitter.

    `since`: the day its figures begin. `slope_loss`: share of theory lost a day; `offset_drift`: mV a day. `believed`
    is what the last adjustment left in the transmitter. A jump is a coating or a crack: from a day on, another state.
    """

    since: dt.date
    fresh: State
    slope_loss: float
    offset_drift: float
    believed: State
    jump: tuple[dt.date, State] | None = None
    chance: random.Random = field(default_factory=random.Random, repr=False)

    def state(self, day: dt.date) -> State:
        """The electrode on a day."""
        if self.jump is not None and day >= self.jump[0]:
            return self.jump[1]
        age = (day - self.since).days
        return State(self.fresh.slope - self.slope_loss * age, self.fresh.offset + self.offset_drift * age)

    def millivolts(self, ph: float, celsius: float, day: dt.date) -> float:
        """What the electrode gives in water of a pH, with a tenth or two of noise, mV."""
        now = self.state(day)
        return now.offset - theory(celsius) * now.slope * (ph - 7) + self.chance.uniform(-0.15, 0.15)

    def shown(self, millivolts: float, celsius: float) -> float:
        """What the display makes of it, by what the transmitter believes of the electrode, pH."""
        return 7 - (millivolts - self.believed.offset) / (theory(celsius) * self.believed.slope)

    def process_shown(self, ph: float, celsius: float, day: dt.date) -> float:
        """What the display shows in the process, pH."""
        return self.shown(self.millivolts(ph, celsius, day), celsius)

    def adjust(self, day: dt.date) -> None:
        """Adjust the transmitter to the electrode as it is."""
        self.believed = self.state(day)

    def clean(self) -> None:
        """Wipe a coating off: the electrode is as old as it is and no worse."""
        self.jump = None


def typed(value: float, places: int) -> str:
    """Write a figure as a person types it, without a plus."""
    text = f"{value:.{places}f}"
    return text.removeprefix("-") if float(text) == 0 else text
