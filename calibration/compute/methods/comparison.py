"""Any analyzer against a grab sample read on a bench meter: for what has no method of its own.

Fluoride, phosphate, ozone, chlorine dioxide, a pH grab. Whether the error is an offset or a gain is set for the tag.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from calibration.compute.asked import SignalRecord, asks_of, number, reader_of, rows, standard, words, yes_or_no
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, spoils, stands
from calibration.compute.figures import plain, shown
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said, value_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Grab:
    """One grab sample: the analyzer when it was taken, and the bench meter's value."""

    shown: Typed | None = number("analyzer shows", must=True)
    bench: Typed | None = number("grab on the bench meter", must=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison(SignalRecord):
    """One set: one or more grabs from the analyzer's own line."""

    meter: str = standard("bench meter", "bench meter")
    grab: tuple[Grab, ...] = rows(Grab, 1, 3)
    own_line: bool | None = yes_or_no("taken from the analyzer's own line", must=True)
    note: str = words("what else matters", rare=True)


SETTINGS = (
    Ask(
        name="model",
        label="how such an analyzer errs",
        part="settings",
        kind="choice",
        choices=(("offset", "By the same amount everywhere"), ("gain", "By the same share everywhere")),
    ),
    Ask(
        name="one_grab",
        label="one grab is enough for a comparison here",
        part="settings",
        kind="choice",
        choices=(("yes", "Yes"), ("no", "No, a pair")),
    ),
)

LIMITS = (
    Limit(
        name="error",
        what="mean error",
        unit="%",
        of="grab",
        low=Fraction(-10),
        high=Fraction(10),
        source="no source: set what this quantity and its rule ask",
        tag="own judgement",
    ),
)


def work(inputs: Comparison, known: Known) -> Worked:
    """Work out the mean of the analyzer and of the grabs, and the error as % of the grab."""
    steps = Steps()
    band = band_for(LIMITS, known, "error")
    whole = [one for one in inputs.grab if one.shown is not None and one.bench is not None]
    if not whole:
        return steps.worked(Model(kind=_kind(known)))
    count = len(whole)
    shown_numbers = {f"s{n}": one.shown for n, one in enumerate(whole, 1)}
    grab_numbers = {f"g{n}": one.bench for n, one in enumerate(whole, 1)}
    means = []
    for name, text, numbers in (
        ("mean_shown", "Mean of the analyzer", shown_numbers),
        ("mean_grab", "Mean of the grabs", grab_numbers),
    ):
        pattern = f"({' + '.join('{' + key + '}' for key in numbers)}) / {count}"
        means.append(
            steps.step(
                name, text, pattern, lambda **v: sum(v.values(), Fraction(0)) / len(v), numbers, places=3, unit="",
            )
        )  # fmt: skip
    read, true = means
    steps.step("difference", "Difference", "{s} − {g}", lambda s, g: s - g, {"s": read, "g": true}, places=3, unit="")
    error = steps.step(
        "error", f"Error in % of the grab; {limit_said(band)}", "100 × ({s} − {g}) / {g}",
        lambda s, g: 100 * (s - g) / g, {"s": read, "g": true}, places=1, unit="%", plus=True, beside=band,
        source=band.source, label="mean error",
    )  # fmt: skip
    steps.judge("error", "mean error", error, band, of="grab", shown=value_of(read), standard=value_of(true))
    points = tuple((one.bench.value, one.shown.value) for one in whole if one.bench and one.shown)
    return steps.worked(Model(kind=_kind(known), points=points), next_value={"error": value_of(error)})


def _kind(known: Known) -> Any:
    return "offset" if known.settings.get("model") == "offset" else "gain"


def pair_wanted(inputs: Comparison, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: one grab where the site asks for a pair."""
    if len([one for one in inputs.grab if one.bench is not None]) != 1 or known.settings.get("one_grab") == "yes":
        return ()
    sentence = "Grab 2: nothing is written. One grab can be wrong by itself; take a second from the same line."
    return (refuse("grab2_bench", "pair", sentence),)


def apart(inputs: Comparison, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: grabs of one minute that differ by more than a tenth; own judgement."""
    values = [one.bench.value for one in inputs.grab if one.bench is not None]
    if len(values) < 2 or max(values) - min(values) <= max(values) / 10:
        return ()
    sentence = f"The grabs read {' and '.join(plain(one) for one in values)}: more than a tenth apart. Read a third?"
    return (
        ask(
            "grab2_bench", "apart", sentence, stands("both right", "The water changed in between"),
            spoils("one wrong", "One of them is wrong"),
        ),
    )  # fmt: skip


def other_tap(inputs: Comparison, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: water of another tap says nothing about this analyzer."""
    if inputs.own_line is not False:
        return ()
    sentence = "The grab was not taken from the analyzer's own line. Take it there and read again."
    return (not_valid("own_line", "other-tap", sentence),)


def nothing_there(inputs: Comparison, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a grab of nothing has no share to compare with."""
    grab = worked.figure("mean_grab")
    if grab is None or grab != 0:
        return ()
    sentence = f"The grabs read {shown(Fraction(0), 1)}: no share of nothing can be given. Compare where there is some."
    return (not_valid("grab1_bench", "nothing", sentence),)


METHOD: Method[Comparison] = Method(
    code="comparison",
    name="Comparison with a grab sample",
    version="1.0",
    quantity="",
    standards=("bench meter",),
    asks=asks_of(Comparison),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=("Reagents of a bench test belong in eyes and drains no more than other chemicals: gloves and goggles.",),
    work=work,
    catches=(*AT_A_SIGNAL, pair_wanted, apart, other_tap, nothing_there),
    read=reader_of(Comparison),
    legends={"grab": "Grab"},
)
