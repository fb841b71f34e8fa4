"""What goes wrong at a chlorine analyzer and its grabs, as far as a record shows it."""

from __future__ import annotations

import calendar
import re
from datetime import date
from fractions import Fraction

from calibration.compute.doubts import ask, fails, not_valid, refuse, remind, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.grabs import farthest
from calibration.compute.method import Found, Known, Worked, band_for
from calibration.compute.methods.chlorine.asks import LIMITS, SPECIES, Chlorine, whole
from calibration.compute.methods.chlorine.working import inside

PAIR, PAIR_SHARE = Fraction("0.05"), Fraction("0.10")
"""How far two grabs may lie apart: 0.05 mg/L or a tenth, the larger; own judgement."""

FREE_MINUTES, TOTAL_MINUTES = Fraction(1), Fraction(3)
"""Minutes from reagent to reading: free at once, total after three; makers' sheets, common practice."""

LOW_RANGE = Fraction(2)
"""Top of the low range where the site wrote none, mg/L; common practice."""

BLEACHED, PLENTY, TENTH = Fraction("0.1"), Fraction(1), Fraction(1, 10)
"""mg/L: a grab of next to nothing, or under a tenth of the analyzer, beside one that shows plenty; own judgement."""


def pair_apart(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask, at the grab that lies farthest out: grabs of one minute that do not agree; own judgement."""
    rows = whole(inputs)
    values = [bench.value for _, _, bench in rows]
    if len(values) < 2 or max(values) - min(values) <= max(PAIR, PAIR_SHARE * max(values)):
        return ()
    third = "Take a third" if len(values) == 2 else f"Grab {rows[farthest(values)][0]} lies farthest out: read it again"
    sentence = (
        f"The grabs read {' and '.join(shown(one, 2) for one in values)} mg/L; they agree within 0.05 mg/L or a "
        f"tenth. {third}, or say why they differ."
    )
    return (
        ask(
            f"grab{rows[farthest(values)][0]}_bench", "pair", sentence, stands("changed", "The water changed"),
            spoils("one wrong", "One of them is wrong"),
        ),
    )  # fmt: skip


def other_water(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: another tap, the analyzer not at its time, no sample flow."""
    said = (
        ("own_line", inputs.own_line, "The grab was taken from another tap. Take it from the analyzer's own line."),
        ("lag", inputs.lag, "The analyzer was read before this water had come to it. Wait out line and cycle."),
        ("flow", inputs.flow, "The sample flow was not right, or the analyzer was cleaning itself. Set it, then read."),
    )
    return tuple(not_valid(name, name, sentence) for name, answer, sentence in said if answer is False)


def over_range(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a bench meter over its range, or a value above the low range that was chosen."""
    if inputs.flashing:
        sentence = "The bench meter was over its range. Dilute with chlorine-free water or take the high range."
        return (not_valid("flashing", "flashing", sentence),)
    written = known.number("low_range")
    top = LOW_RANGE if written is None else written
    high = [bench for _, _, bench in whole(inputs) if bench.value > top]
    if inputs.scale != "low" or not high:
        return ()
    sentence = f"“{high[0].text}” mg/L lies over the low range, {plain(top)} mg/L. Read it in the high range."
    return (not_valid("scale", "low-range", sentence),)


def too_late(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: free read after a minute takes in combined chlorine; total before three has not developed."""
    species = known.settings.get("species")
    found: list[Found] = []
    for count, one in enumerate(inputs.grab, 1):
        if one.minutes is None:
            continue
        late = species == "free" and one.minutes.value > FREE_MINUTES
        early = species == "total" and one.minutes.value < TOTAL_MINUTES
        if not late and not early:
            continue
        why = (
            "free chlorine is read within a minute: later the combined colours in"
            if late
            else "total chlorine is read after three minutes: before, the colour is not there yet"
        )
        found.append(
            ask(
                f"grab{count}_minutes", f"minutes-{count}",
                f"“{one.minutes.text}” minutes: {why}. Does the value stand?",
                stands("known", "This reagent asks for so long"), spoils("wrong", "It was read at the wrong time"),
            )
        )  # fmt: skip
    return tuple(found)


def bleached(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask, at each grab: next to nothing beside an analyzer that shows plenty is an indicator that was bleached."""
    return tuple(
        ask(
            f"grab{count}_bench", f"bleached-{count}",
            f"The grab reads “{grab.text}” and the analyzer “{read.text}” mg/L. Very much chlorine bleaches the "
            "indicator and looks like none. Dilute the grab and read again before you believe it.",
            fails("none", "Diluted and read again: it is so"), spoils("bleached", "It was bleached"),
        )
        for count, read, grab in whole(inputs)
        if read.value >= PLENTY and grab.value <= max(BLEACHED, TENTH * read.value)
    )  # fmt: skip


def dirty_cell(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a cell still pink from before adds to the reading. Ask: a blank of other water, or none."""
    found: list[Found] = []
    if inputs.clean_cell is False:
        sentence = "The cell was not clean. Rinse it with the sample, blank it, read again."
        found.append(not_valid("clean_cell", "cell", sentence))
    if inputs.blank is False:
        sentence = (
            "There is no blank of this water: its own colour and manganese then count as chlorine. "
            "Blank with the same water and read again."
        )
        found.append(
            ask(
                "blank", "no-blank", sentence, stands("clear", "The water is clear and has no manganese"),
                spoils("again", "It is read again"),
            )
        )  # fmt: skip
    return tuple(found)


def total_below_free(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: total chlorine can not be less than free; the grabs are one of the two, where they alone were read."""
    species, mean = known.settings.get("species"), worked.figure("mean_grab")
    grabs = None if mean is None else Fraction(mean)
    free = inputs.free.value if inputs.free is not None else grabs if species == "free" else None
    total = inputs.total.value if inputs.total is not None else grabs if species == "total" else None
    if free is None or total is None or (inputs.free is None and inputs.total is None) or total >= free - PAIR:
        return ()
    sentence = (
        f"Total, {shown(total, 2)}, is less than free, {shown(free, 2)} mg/L, which cannot be. Were they "
        "exchanged, or did manganese or combined chlorine colour the free test?"
    )
    return (
        ask(
            "total" if inputs.total is not None else "free", "total-below-free", sentence,
            stands("repeated", "Read twice, it is so"), spoils("coloured", "The free test was coloured"),
        ),
    )  # fmt: skip


def combined_as_free(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid or ask: grabs of the other chlorine than the analyzer measures, as combined counted as free."""
    species, mean = known.settings.get("species", ""), worked.figure("mean_grab")
    if species not in SPECIES:
        return ()
    other = "total" if species == "free" else "free"
    if inputs.bench_read == other:
        sentence = (
            f"The bench test was for {other} chlorine and the analyzer measures {species}: what is combined lies "
            f"between them. Test the grabs for {species} chlorine."
        )
        return (not_valid("bench_read", "other-species", sentence),)
    own, beside = (inputs.free, inputs.total) if species == "free" else (inputs.total, inputs.free)
    spread = max(PAIR, PAIR_SHARE * Fraction(mean or 0))
    if own is not None and mean is not None and abs(Fraction(mean) - own.value) > spread:
        there = "" if beside is None or abs(Fraction(mean) - beside.value) > spread else f", but as {other}"
        sentence = (
            f"The grabs read {shown(mean, 2)} mg/L, not as the {species} chlorine of the same grab, "
            f"“{own.text}”{there}. Was the other test read?"
        )
        return (ask(species, "not-own-species", sentence, stands("later", "That was read later, in other water"),
                    spoils("other", f"The grabs are not {species} chlorine")),)  # fmt: skip
    return _no_combined_left(inputs, known, worked)


def _no_combined_left(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    mean = worked.figure("mean_grab")
    if known.settings.get("combined") != "yes" or inputs.total is None or mean is None:
        return ()
    free = Fraction(mean) if known.settings.get("species") == "free" else inputs.free.value if inputs.free else None
    if free is None or not free - PAIR <= inputs.total.value < free + PAIR:
        return ()
    sentence = (
        f"The free test reads {shown(free, 2)} and the total “{inputs.total.text}” mg/L, though this water carries "
        "combined chlorine. It colours a free test that stands. Was it read at once?"
    )
    return (
        ask(
            "total", "combined", sentence, stands("at once", "Read at once: there is none just now"),
            spoils("coloured", "The combined coloured the free test"),
        ),
    )  # fmt: skip


def last_day(text: str) -> date:
    """Return the last day of '2027-03-31', or of the month '2027-03'. Raises ValueError for what is neither."""
    month = re.fullmatch(r"(\d{4})-(\d{2})", text.strip(), re.ASCII)
    if month is None:
        return date.fromisoformat(text.strip())
    year, number = int(month[1]), int(month[2])
    if not (year >= 1 and 1 <= number <= 12):
        raise ValueError("There is no such month.")
    return date(year, number, calendar.monthrange(year, number)[1])


def reagents(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: the bench reagent is over its day. Remind: that of the analyzer is. Refuse: a day nobody can read."""
    found: list[Found] = []
    for field, text in (("reagent_expires", inputs.reagent_expires), ("analyzer_expires", inputs.analyzer_expires)):
        if not text:
            continue
        try:
            until = last_day(text)
        except ValueError:
            sentence = f"“{text}” is no day; write it as printed, like 2027-03-31 or 2027-03."
            found.append(refuse(field, f"unread-{field}", sentence))
            continue
        if until >= known.day:
            continue
        if field == "reagent_expires":
            sentence = f"The bench reagent was good until {text}. Read the grabs again with one that is in date."
            found.append(not_valid(field, "expired-reagent", sentence))
        else:
            sentence = f"The reagent in the analyzer was good until {text}. Change it, and read a new pair after it."
            found.append(remind(field, "expired-in-analyzer", sentence))
    return tuple(found)


def reagent_level(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: the analyzer's reagent runs low. Ask: it ran out, and what the analyzer shows is then no chlorine."""
    if inputs.level == "low":
        return (remind("level", "low", "The reagent runs low. Fill it up before it runs out, after this reading."),)
    if inputs.level != "empty" or inputs.kind == "as left":
        return ()
    sentence = "There is no reagent left, so the analyzer measures nothing, whatever it shows. Since when?"
    return (
        ask(
            "level", "empty", sentence, fails("dry", "It ran dry: it is a fail as found"),
            stands("none needed", "This analyzer measures without"),
        ),
    )  # fmt: skip


def adjusted_inside(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: adjusting an analyzer that was inside its limits chases noise; a reason lets it pass."""
    before, after = known.last.get("error"), worked.figure("error")
    # The limit of as found follows from the grabs of then, not from those taken after the adjustment.
    grab = known.last.get("mean_grab", Fraction(worked.figure("mean_grab") or 0))
    band = band_for(LIMITS, known, "error", standard=grab)
    if inputs.kind != "as left" or inputs.unchanged or before is None or after is None:
        return ()
    if not inside(before, band) or inputs.adjusted_though_good:
        return ()
    sentence = (
        f"As found the error was {shown(before, 2, plus=True)} mg/L, inside the limit. Adjusting inside the limit "
        "chases noise. Write why it was adjusted all the same."
    )
    return (refuse("adjusted_though_good", "adjusted-inside", sentence),)


def gain_wrong_way(inputs: Chlorine, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: the gain of an analyzer that read high was raised, or of one that read low lowered."""
    before, old, new = known.last.get("error"), inputs.gain, inputs.new_gain
    if inputs.kind != "as left" or not before or old is None or new is None or old.value == new.value:
        return ()
    if (new.value - old.value) * before < 0:
        return ()
    side, done = ("high", "raised") if before > 0 else ("low", "lowered")
    sentence = (
        f"As found the analyzer read {side}, and its gain was {done} from “{old.text}” to “{new.text}”. "
        "Is that the wrong way?"
    )
    return (
        ask(
            "new_gain", "gain-wrong-way", sentence, stands("divides", "This analyzer divides by its gain"),
            fails("wrong way", "The wrong way, and it is left so"),
        ),
    )  # fmt: skip
