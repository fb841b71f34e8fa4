"""What goes wrong at a turbidity meter: blocks, units, halves of a reading, standards far from the water, bubbles."""

from __future__ import annotations

from fractions import Fraction

from calibration.compute.doubts import ask, not_valid, refuse, remind, spoils, stands
from calibration.compute.figures import plain
from calibration.compute.method import Found, Known, Worked
from calibration.compute.methods.turbidity.asks import BLOCK, FIXED, SHARE, UNITS, Turbidity, unit_shown
from calibration.compute.standards import Standard

FLOOR = FIXED / SHARE
"""NTU up to which the fixed part of the limit counts, 0.5: below it how many times smaller a value is says nothing."""
LOW_ENOUGH = Fraction(1)
"""NTU up to which a standard says something of the zero; own judgement."""
TIMES = 5
"""How many times the water a standard may be before it is asked about; own judgement."""


def _chosen(inputs: Turbidity, known: Known) -> tuple[tuple[str, str, Standard], ...]:
    """Return the standards that were read: field, what ends a key, and the standard itself."""
    both = (("standard", "", inputs.standard), ("low_standard", "-low", inputs.low_standard))
    return tuple((name, end, known.standards[key]) for name, end, key in both if key in known.standards)


def block_not_primary(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a secondary standard read as a primary one or the reverse, or one without a value for this meter."""
    found: list[Found] = []
    for name, end, used in _chosen(inputs, known):
        if used.kind == BLOCK and inputs.way == "primary":
            sentence = f"{used.called} is a secondary standard: it verifies, it does not calibrate. Use a primary one."
            found.append(not_valid("way" if not end else name, f"block-as-primary{end}", sentence))
        elif used.kind == BLOCK and used.assigned_to(known.unit_key) is None:
            sentence = (
                f"{used.called} has no value assigned on this meter; the value of another meter does not count here. "
                "Assign one right after a primary calibration."
            )
            found.append(not_valid(name, f"block-unassigned{end}", sentence))
        elif used.kind != BLOCK and inputs.way == "block" and not end:
            sentence = f"{used.called} is a primary standard. Say that a primary one was read: blocks hang on that day."
            found.append(refuse("way", "primary-as-block", sentence))
    return tuple(found)


def old_assignment(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a block that was not assigned anew after the last primary calibration of this meter."""
    last = known.settings.get("last_primary", "")
    found: list[Found] = []
    for name, end, used in _chosen(inputs, known):
        assigned = used.assigned_to(known.unit_key) if used.kind == BLOCK else None
        if assigned is None or not last or assigned.on.isoformat() >= last:
            continue
        sentence = (
            f"The value of this block was assigned on {assigned.on.isoformat()}, before the last primary calibration "
            f"on {last}. Assign it anew, then verify."
        )
        found.append(not_valid(name, f"old-assignment{end}", sentence))
    return tuple(found)


def half_read(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a low standard without its reading, a reading without its standard, dirty water and none cleaned."""
    unread = {one.field for one in inputs.unread}
    found: list[Found] = []
    if inputs.low_standard and inputs.low_shown is None and "low_shown" not in unread:
        sentence = "A low standard is chosen and nothing is written of it. Write what the meter shows in it."
        found.append(refuse("low_shown", "half-low", sentence))
    if inputs.low_shown is not None and not inputs.low_standard:
        sentence = f"“{inputs.low_shown.text}” in which low standard? Choose it, or the reading is judged by nothing."
        found.append(refuse("low_standard", "half-low", sentence))
    if inputs.kind == "as found" and inputs.dirty is not None and inputs.cleaned is None and "cleaned" not in unread:
        sentence = (
            "The water was read before cleaning and not after. The standard is read with a cleaned meter: write what "
            "it showed on the same water then, or fouling and drift cannot be told apart."
        )
        found.append(refuse("cleaned", "half-fouling", sentence))
    return tuple(found)


def not_lower(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a low standard that is the standard once more, or not below it."""
    true, low = worked.figure("true"), worked.figure("low_true")
    same = bool(inputs.low_standard) and inputs.low_standard == inputs.standard
    if not same and (true is None or low is None or low < true):
        return ()
    sentence = "The low standard is not below the other one. Read a lower one, or change the two over."
    return (refuse("low_standard", "not-lower", sentence),)


def no_gain(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a standard no larger than its own limit, in which a meter that shows nothing at all would pass."""
    true = worked.figure("true")
    low = next((one.low for one in worked.judged if one.name == "error"), None)
    if true is None or low is None or -Fraction(true) < low:
        return ()
    sentence = (
        f"In {plain(Fraction(true))} {unit_shown(known)} a meter that shows nothing at all would pass. Read a higher "
        "standard, and this one as the low one."
    )
    return (not_valid("standard", "no-gain", sentence),)


def mixed_units(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a standard stated in FNU at a meter in NTU or the reverse; one number in formazin alone (from memory)."""
    shows = unit_shown(known)
    found: list[Found] = []
    for name, end, used in _chosen(inputs, known):
        if used.unit in {"", shows}:
            continue
        if used.unit not in UNITS.values():
            sentence = f"{used.called} is given in {used.unit}, which is no unit of turbidity. Choose another one."
            found.append(refuse(name, f"other-unit{end}", sentence))
            continue
        sentence = (
            f"{used.called} is stated in {used.unit}, and this meter shows {shows}. The two are one number in formazin "
            "alone: not in beads, not in a block, not on water."
        )
        formazin = (stands("formazin", "It is formazin"),) if used.kind != BLOCK else ()
        answers = (*formazin, spoils("other", "It is no formazin, or nobody knows"))
        found.append(ask(name, f"mixed-units{end}", sentence, *answers))
    return tuple(found)


def _judged_in(worked: Worked) -> list[Fraction]:
    """Return the values of the standards that were judged, lowest first."""
    names = {"error", "low"}
    return sorted(one.standard for one in worked.judged if one.name in names and one.standard is not None)


def far_from_process(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a standard more than five times the water or less than a fifth of it, unless two stand around it."""
    usual, judged = known.number("working_value"), _judged_in(worked)
    if usual is None or not judged or judged[0] <= usual <= judged[-1]:
        return ()
    water = max(usual, FLOOR)
    if any(water <= TIMES * max(one, FLOOR) and max(one, FLOOR) <= TIMES * water for one in judged):
        return ()
    sentence = (
        f"The water usually has {plain(usual)}, the standard {plain(judged[-1])} {unit_shown(known)}: more than "
        f"{TIMES} times apart. Use one nearer to it, or say why this one."
    )
    answers = (stands("only one", "It is the one there is"), spoils("nearer", "A nearer one will be read"))
    return (ask("standard", "far-from-process", sentence, *answers),)


def zero_not_proved(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: a high standard proves the gain, not the zero of water far below it, unless a low one was judged."""
    usual, judged = known.number("working_value"), _judged_in(worked)
    if not judged or judged[0] <= LOW_ENOUGH or (usual is not None and usual >= judged[0]):
        return ()
    at = f", {plain(usual)} {unit_shown(known)}" if usual is not None else ""
    sentence = (
        f"In {plain(judged[0])} {unit_shown(known)} the gain is proved, the zero is not. For water far below it{at} "
        "read a low standard too."
    )
    return (remind("low_shown", "zero-not-proved", sentence),)


def spoilt_reading(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: bubbles, an old dilution, a scratched vial."""
    found: list[Found] = []
    if inputs.rising:
        found.append(not_valid("rising", "bubbles", "Rising and then falling are bubbles. Degas, wait, read again."))
    if inputs.diluted:
        sentence = "A diluted standard holds for a day only. Dilute anew and read again."
        found.append(not_valid("diluted", "dilution", sentence))
    if inputs.vial is False:
        sentence = "A scratch or a finger mark scatters light. Wipe or change the vial and read again."
        found.append(not_valid("vial", "vial", sentence))
    return tuple(found)


def flow_outside(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a sample flow outside the maker's band."""
    low, high = known.number("flow_low"), known.number("flow_high")
    if inputs.flow is None or (low is None and high is None):
        return ()
    if (low is None or inputs.flow.value >= low) and (high is None or inputs.flow.value <= high):
        return ()
    sentence = f"A sample flow of “{inputs.flow.text}” {inputs.flow.unit} is outside the maker's band. Set it first."
    return (
        ask(
            "flow", "flow", sentence, stands("set since", "Set right, the water was read after that"),
            spoils("read so", "The water was read at this flow"),
        ),
    )  # fmt: skip


def clipped(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: exactly the upper end of the signal is where it stops, not what the water has; twice so is no fouling."""
    upper = known.number("upper")
    read = {"shown": inputs.shown, "dirty": inputs.dirty, "cleaned": inputs.cleaned}
    return tuple(
        ask(
            name,
            "clipped" if name == "shown" else f"clipped-{name}",
            f"“{one.text}” {unit_shown(known)} is exactly the upper end of the signal. Does it stop there?",
            stands("really", "The display itself shows it, beyond the signal"),
            spoils("clipped", "It stops there"),
        )
        for name, one in read.items()
        if one is not None and one.value == upper
    )


def cleaned_first(inputs: Turbidity, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: fouling can only be told when the water was read before and after cleaning."""
    if inputs.kind != "as found" or inputs.cleaned is None or inputs.dirty is not None:
        return ()
    sentence = "The water was read cleaned and not before. What the dirt did is lost; next time read, then clean."
    return (remind("cleaned", "cleaned-first", sentence),)
