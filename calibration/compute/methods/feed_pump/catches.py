"""What can be wrong with a drawdown, and how it is caught."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

from calibration.compute.doubts import ask, not_valid, refuse, remind, spoils, stands
from calibration.compute.figures import shown
from calibration.compute.method import Found, Known, Worked, band_for
from calibration.compute.methods.feed_pump.asks import LIMITS, Drawdown

APART = 10
"""Two doses are asked about when they stand more than a tenth apart; own judgement."""

AGED_DAYS = 30
"""Days after which a hypochlorite strength is asked about: it fades; own judgement."""


def spread_wide(inputs: Drawdown, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: runs that do not agree have no mean worth judging."""
    spread, band = worked.figure("spread"), band_for(LIMITS, known, "spread")
    if spread is None or band.high is None or Fraction(spread) <= band.high:
        return ()
    sentence = f"The runs spread by {shown(Fraction(spread), 1)} % of their mean. Let the air out and run again."
    return (not_valid("run3_last", "spread", sentence),)


def no_delivery(inputs: Drawdown, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a column that rose is read the wrong way round. Not valid: without back-pressure a pump gives more."""
    found: list[Found] = []
    for count in range(1, len(inputs.run) + 1):
        rate = worked.figure(f"rate_{count}")
        if rate is not None and rate < 0:
            sentence = f"Run {count}: the column rose. Are its two readings exchanged, or is it filling from the tank?"
            found.append(ask(f"run{count}_last", f"rose-{count}", sentence, spoils("filling", "It was filling")))
    mean = worked.figure("mean")
    if mean is not None and mean == 0:
        sentence = "Nothing was delivered. A pump full of air clicks and gives nothing."
        found.append(ask("run1_last", "air", sentence, stands("so", "It delivers nothing: it fails")))
    if inputs.pressure is False:
        sentence = "Not at working pressure and suction: the pump gives another flow there. Test it as it works."
        found.append(not_valid("pressure", "pressure", sentence))
    return tuple(found)


def set_at_nought(inputs: Drawdown, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a pump that is set at nought and delivers."""
    mean = worked.figure("mean")
    if inputs.setting is None or inputs.setting.value > 0 or mean is None or mean <= 0:
        return ()
    sentence = f"The pump is set at “{inputs.setting.text}” % and delivers. What is its setting?"
    return (
        ask(
            "setting", "set-nought", sentence, stands("other", "It is set elsewhere than at this dial"),
            spoils("runs", "It runs though it is set at nought"),
        ),
    )  # fmt: skip


def siphons(inputs: Drawdown, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: chemical that runs with the pump stopped."""
    if inputs.off_run is None or inputs.off_run.value == 0:
        return ()
    sentence = f"“{inputs.off_run.text}” mL ran in a minute with the pump stopped: it siphons. Mend the valve first."
    return (
        ask(
            "off_run",
            "siphon",
            sentence,
            spoils("mend", "Then it is mended and tested again"),
            spoils("leak", "The column leaked: what leaked was counted as delivered"),
        ),
    )


def doubtful_strength(inputs: Drawdown, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a strength without its basis. Ask: an aged one of what fades; a weight % of a heavy liquid."""
    found: list[Found] = []
    if inputs.strength is not None and not inputs.basis:
        sentence = "The strength is: nothing is chosen. Per cent of what? Trade % and % by weight differ by a sixth."
        found.append(refuse("basis", "basis", sentence))
    if inputs.basis == "wt" and inputs.gravity is None:
        found.append(refuse("gravity", "gravity", "Specific gravity: nothing is written; % by weight needs it."))
    if inputs.strength is not None or inputs.measured_on:
        found += _aged(inputs, known)
    return tuple(found)


def _aged(inputs: Drawdown, known: Known) -> list[Found]:
    try:
        measured = date.fromisoformat(inputs.measured_on) if inputs.measured_on else None
    except ValueError:
        sentence = f"Strength measured on: “{inputs.measured_on}” is no day; write it like 2026-11-02."
        return [refuse("measured_on", "measured-on", sentence)]
    if measured is not None and measured > known.day:
        sentence = f"Strength measured on: {inputs.measured_on} is after the day of this check; write the day it was."
        return [refuse("measured_on", "measured-on", sentence)]
    fades = known.settings.get("fades", "")
    if fades == "no" or (measured is not None and (known.day - measured).days <= AGED_DAYS):
        return []
    if fades != "yes":
        sentence = "Whether this chemical fades is not written for this tag; hypochlorite does. A supervisor writes it."
        return [remind("measured_on", "fades", sentence)]
    since = "from the label" if measured is None else f"{(known.day - measured).days} days old"
    sentence = f"The strength is {since}; this chemical fades. The dose below is then smaller than it says."
    return [ask("measured_on", "aged", sentence, stands("known", "Known; no newer one there is"))]


def forced_flow(inputs: Drawdown, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: the dose is worked out with a flow that nobody measures."""
    if inputs.water is None or not (inputs.substituted or known.forced):
        return ()
    sentence = "The flow of the water is forced or taken from elsewhere, so the dose is what it would be at that flow."
    return (ask("water", "forced", sentence, stands("known", "Known, and its basis is written")),)


def tank_says_otherwise(inputs: Drawdown, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: the tank and the drawdown tell of two doses; more than 10 % apart, own judgement."""
    one, other = worked.figure("dose"), worked.figure("dose_by_tank")
    if one is None or other is None or abs(Fraction(one) - Fraction(other)) * APART <= Fraction(one):
        return ()
    sentence = (
        f"By drawdown the water gets {shown(one, 2)} mg/L, by the tank {shown(other, 2)} mg/L. Was the pump set "
        "otherwise meanwhile, the tank filled, or the water counted for another time?"
    )
    return (
        ask(
            "drop", "tank", sentence, stands("set", "It was set otherwise meanwhile"),
            spoils("unknown", "Nobody knows: drawn down again"),
        ),
    )  # fmt: skip
