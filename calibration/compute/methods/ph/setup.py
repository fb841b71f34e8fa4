"""One reading set made ready for computing: its points beside their buffers, and the limits in force."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.method import Band, Figure, Judged, Known, Line, band_for
from calibration.compute.methods.ph.asks import LIMITS
from calibration.compute.methods.ph.inputs import ReadingSet, Standing, standings, third_standing

OTHER_WAY = "other way"


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A part of the result: its lines of working, its figures and what of it is judged."""

    lines: tuple[Line, ...] = ()
    figures: tuple[Figure, ...] = ()
    judged: tuple[Judged, ...] = ()


def together(*pieces: Piece) -> Piece:
    """Put pieces one after the other."""
    return Piece(
        lines=tuple(line for piece in pieces for line in piece.lines),
        figures=tuple(figure for piece in pieces for figure in piece.figures),
        judged=tuple(judged for piece in pieces for judged in piece.judged),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """A reading set with what is known about it."""

    inputs: ReadingSet
    known: Known
    points: tuple[Standing, ...]
    third: Standing | None

    @property
    def is_as_left(self) -> bool:
        """True for the set that judges the time to come, also by the limits of the electrode."""
        return self.inputs.kind == "as left"

    @property
    def points_asked(self) -> int:
        """How many buffers the requirement asks for: 2 unless it says otherwise."""
        return int(self.known.settings.get("points", "2"))

    @property
    def setting_counts_up(self) -> bool:
        """True when the position's setting says that its millivolts rise with pH."""
        return self.known.settings.get("slope_sign") == "positive"

    @property
    def counts_up(self) -> bool:
        """True when millivolts rise with pH here: by the setting, or by an answer with its reason."""
        answer = self.inputs.answers.get("rising")
        told = answer is not None and answer.choice == OTHER_WAY and bool(answer.reason.strip())
        return self.setting_counts_up or told

    @property
    def on_display(self) -> tuple[tuple[Fraction, Fraction], ...]:
        """The points (pH of the buffer, pH shown) that have both."""
        return tuple(
            (one.true, one.point.shown.value)
            for one in self.points
            if one.true is not None and one.point.shown is not None
        )

    @property
    def in_volts(self) -> tuple[tuple[Fraction, Fraction], ...]:
        """The points (pH of the buffer, mV) that have both."""
        return tuple(
            (one.true, one.point.mv.value) for one in self.points if one.true is not None and one.point.mv is not None
        )

    @property
    def temperatures(self) -> tuple[Fraction, ...]:
        """The temperatures of the buffers, degC."""
        return tuple(one.point.temperature.value for one in self.points if one.point.temperature is not None)

    @property
    def mean_temperature(self) -> Fraction | None:
        """The mean of the buffers' temperatures, degC; None when none is written."""
        found = self.temperatures
        return sum(found, Fraction(0)) / len(found) if found else None

    @property
    def working_ph(self) -> Fraction | None:
        """The requirement's working pH, for when the plant is off; None when none is set."""
        text = self.known.settings.get("working_ph", "")
        return Fraction(text) if text else None

    def band(self, name: str) -> Band:
        """Return the limits in force for a judged value by its name."""
        return band_for(LIMITS, self.known, name)


def set_up(inputs: ReadingSet, known: Known) -> Setup:
    """Set the points of a reading set beside their buffers."""
    return Setup(inputs=inputs, known=known, points=standings(inputs, known), third=third_standing(inputs, known))
