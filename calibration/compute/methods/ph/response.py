"""What can be wrong with the answer of the probe: none at all, the wrong way round, too few buffers.

A cracked glass must not become "not valid": each of these is asked, and what the person saw decides whether the set
is not valid (a slip with the cups) or a fail (the probe is like that).
"""

from __future__ import annotations

from collections.abc import Iterator

from calibration.compute.figures import shown
from calibration.compute.method import Choice, Found, Worked
from calibration.compute.methods.ph.advice import FLAT
from calibration.compute.methods.ph.display import as_ph, display_line
from calibration.compute.methods.ph.setup import OTHER_WAY, Setup
from calibration.compute.methods.ph.standards import WRITE_AGAIN
from calibration.compute.methods.ph.voltage import probe_of

SAME_CUP = Choice(code="same cup", label="Same cup twice", then="not valid")
SHOWS_THIS = Choice(code="two buffers", label="Two buffers, it shows this", then="fail")
SWAPPED = Choice(code="swapped", label="The cups were swapped: read both buffers again", then="not valid")
WRONG_LINES = Choice(
    code="wrong lines", label="Right cups, wrong lines: write both points the other way round", then="write again"
)
WRONG_SIGN = Choice(code="wrong sign", label="A plus or minus is wrong: write that one again", then="write again")
COUNTS_UP = Choice(code=OTHER_WAY, label="This probe counts the other way", then="stands")
ONE_BUFFER = Choice(code="one buffer", label="Only one buffer was read", then="not valid")


def _read_in(setup: Setup) -> str:
    """Say what the electrode gave in each buffer: '−4.8 mV at pH 7.048 and −178.6 mV at pH 10.149'."""
    return " and ".join(
        f"“{one.point.mv.text.replace('-', '−')}” mV at pH {as_ph(one.true)}"
        for one in setup.points
        if one.point.mv is not None and one.true is not None
    )


def _shown_in(setup: Setup) -> str:
    return " and ".join(
        f"“{one.point.shown.text}” at pH {as_ph(one.true)}"
        for one in setup.points
        if one.point.shown is not None and one.true is not None
    )


def electrode_answer(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Ask: |slope| under a tenth of theory, or a slope of the wrong sign for this probe."""
    probe = probe_of(setup)
    if probe is None:
        return ()
    if abs(probe.percent) < 100 * FLAT:
        return (_flat(setup, abs_percent=shown(abs(probe.percent), 1)),)
    wrong_way = probe.slope < 0 if setup.setting_counts_up else probe.slope > 0
    return (_wrong_way(setup, slope=shown(probe.slope, 2, plus=True)),) if wrong_way else ()


def _flat(setup: Setup, *, abs_percent: str) -> Found:
    return Found(
        weight="ask",
        field="point2_mv",
        key="flat",
        sentence=f"The electrode gives nearly the same in both buffers, {_read_in(setup)}: {abs_percent} % of theory. "
        "The same cup twice does this, and so does a cracked glass. What was it?",
        choices=(SAME_CUP, SHOWS_THIS, WRITE_AGAIN),
    )


def _wrong_way(setup: Setup, *, slope: str) -> Found:
    rule = "more volts in alkali, by its setting" if setup.setting_counts_up else "more volts in acid"
    choices = (SWAPPED, WRONG_LINES, WRONG_SIGN, SHOWS_THIS)
    return Found(
        weight="ask",
        field="point1_mv",
        key="rising",
        sentence=f"The buffers look swapped: you wrote {_read_in(setup)}, a slope of {slope} mV/pH. This probe goes "
        f"the other way, {rule}. Swapped cups do this, and so does a plus or minus on the wrong line. What was it?",
        choices=choices if setup.setting_counts_up else (*choices, COUNTS_UP),
    )


def display_answer(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Ask: a display that shows nearly the same in all buffers, or falls where pH rises.

    Not asked when the millivolts already tell the same story.
    """
    line = display_line(setup)
    if line is None or line.slope >= FLAT or electrode_answer(setup, worked):
        return ()
    if line.slope > -FLAT:
        sentence = (
            f"The display shows nearly the same in both buffers, {_shown_in(setup)}. The same cup twice does this, "
            "and so does a cracked glass or a display that stands still. What was it?"
        )
        choices = (SAME_CUP, SHOWS_THIS, WRITE_AGAIN)
        return (Found(weight="ask", field="point2_shown", key="display-flat", sentence=sentence, choices=choices),)
    sentence = (
        f"The display falls where pH rises: you wrote {_shown_in(setup)}. Swapped cups do this, and so do right cups "
        "on wrong lines. What was it?"
    )
    choices = (SWAPPED, WRONG_LINES, SHOWS_THIS)
    return (Found(weight="ask", field="point1_shown", key="display-falls", sentence=sentence, choices=choices),)


def too_few_buffers(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Ask: fewer buffers read than the requirement asks for; one point is no two-point check."""
    read = sum(1 for one in setup.points if not one.point.is_empty)
    if read >= setup.points_asked or read == 0:
        return ()
    return (
        Found(
            weight="ask",
            field=f"point{read + 1}_shown",
            key="too-few-buffers",
            sentence=f"{read} of {setup.points_asked} buffers {'is' if read == 1 else 'are'} written. One buffer "
            "shows no slope: a check in one is no two-point check. Read the next buffer, or say that there was none.",
            choices=(ONE_BUFFER, WRITE_AGAIN),
        ),
    )


def some_millivolts(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Remind: millivolts in some buffers only give no slope."""
    return tuple(_half_volts(setup))


def _half_volts(setup: Setup) -> Iterator[Found]:
    read = [one for one in setup.points if not one.point.is_empty]
    without = [one for one in read if one.point.mv is None]
    if without and len(without) < len(read):
        yield Found(
            weight="remind",
            field=f"{without[0].prefix}mv",
            key="some-millivolts",
            sentence=f"{without[0].name}: no millivolts are written here but there are in another buffer, so no slope "
            "is worked out. Write them in every buffer, or in none.",
        )


def electrode_not_judged(setup: Setup, worked: Worked) -> tuple[Found, ...]:
    """Remind, as left: without millivolts or the transmitter's own figures slope and offset are not judged."""
    judged = {one.name for one in worked.judged}
    if not setup.is_as_left or len(setup.on_display) < 2 or {"slope", "offset"} <= judged:
        return ()
    sentence = (
        "Slope and offset are not judged: write the millivolts in each buffer, or the slope and zero the "
        "transmitter gives."
    )
    return (Found(weight="remind", field="own_slope", key="electrode-not-judged", sentence=sentence),)


CATCHES = (electrode_answer, display_answer, too_few_buffers, some_millivolts, electrode_not_judged)
