"""Any analyzer against a grab sample read on a bench meter: for what has no method of its own.

Fluoride, phosphate, ozone, chlorine dioxide, a pH grab. Whether the error is an offset or a gain is set for the tag.

The uncertainty is that of the bench meter's certificate, of both last digits and of how the pair repeats, each brought
to % of the grab; one grab alone has none, for it does not show how it repeats.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, number, reader_of, rows, standard, words, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import ask, coarse_standards, no_hold, not_valid, spoils, stands, unfit_standards
from calibration.compute.figures import plain, shown
from calibration.compute.grabs import ONE_GRAB, farthest, mean_of, missing_grabs, moved_away, pair_budget
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, ModelKind, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said, value_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Grab:
    """One grab sample: the analyzer when it was taken, and the bench meter's value."""

    shown: Typed | None = number("analyzer shows", must=True)
    bench: Typed | None = number("grab on the bench meter", low="0", must=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison(SignalRecord):
    """One set: one or more grabs from the analyzer's own line."""

    meter: str = standard("bench meter", "bench meter")
    grab: tuple[Grab, ...] = rows(Grab, 2, 3)
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
    ONE_GRAB,
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


def _whole(inputs: Comparison) -> list[tuple[int, Typed, Typed]]:
    return [
        (count, one.shown, one.bench)
        for count, one in enumerate(inputs.grab, 1)
        if one.shown is not None and one.bench is not None
    ]


def work(inputs: Comparison, known: Known) -> Worked:
    """Work out the mean of the analyzer and of the grabs, and the error as % of the grab."""
    steps = Steps()
    band = band_for(LIMITS, known, "error")
    pairs = [(read, grab) for _, read, grab in _whole(inputs)]
    read = mean_of(steps, "mean_shown", "Mean of the analyzer", [s for s, _ in pairs], places=3, unit="")
    true = mean_of(steps, "mean_grab", "Mean of the grabs", [g for _, g in pairs], places=3, unit="")
    steps.step("difference", "Difference", "{s} − {g}", lambda s, g: s - g, {"s": read, "g": true}, places=3, unit="")
    error = steps.step(
        "error", f"Error in % of the grab; {limit_said(band)}", "100 × ({s} − {g}) / {g}",
        lambda s, g: 100 * (s - g) / g, {"s": read, "g": true}, places=1, unit="%", plus=True, beside=band,
        source=band.source, label="mean error",
    )  # fmt: skip
    steps.judge("error", "mean error", error, band, of="grab", shown=value_of(read), standard=value_of(true))
    points = tuple((grab.value, shown.value) for shown, grab in pairs)
    return steps.worked(Model(kind=_kind(known), points=points), next_value={"error": value_of(error)})


def _kind(known: Known) -> ModelKind:
    return "offset" if known.settings.get("model") == "offset" else "gain"


def apart(inputs: Comparison, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask, at the grab that lies farthest out: grabs of one minute that differ by more than a tenth; own judgement."""
    there = _whole(inputs)
    values = [grab.value for _, _, grab in there]
    if len(values) < 2 or max(values) - min(values) <= max(values) / 10:
        return ()
    sentence = f"The grabs read {' and '.join(plain(one) for one in values)}: more than a tenth apart. Read another?"
    return (
        ask(
            f"grab{there[farthest(values)][0]}_bench", "apart", sentence,
            stands("both right", "The water changed in between"), spoils("one wrong", "One of them is wrong"),
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


def budget(inputs: Comparison, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of the error in % of the grab: 100 / g for the analyzer, -100 s / g² for the grab."""
    used, read, true = (
        known.standards.get(inputs.meter),
        worked.figure("mean_shown"),
        worked.figure("mean_grab"),
    )
    if used is None or read is None or not true:
        return {}
    s, g = Fraction(read), Fraction(true)
    drawn = pair_budget(
        used, [(one, other) for _, one, other in _whole(inputs)], what="mean error", unit=used.unit, result="%",
        per_read=100 / g, per_grab=-100 * s / g**2,
    )  # fmt: skip
    return {} if drawn is None else {"error": drawn}


METHOD: Method[Comparison] = Method(
    code="comparison",
    name="Comparison with a grab sample",
    version="1.1",
    quantity="",
    standards=("bench meter",),
    asks=asks_of(Comparison),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=("Reagents of a bench test belong in eyes and drains no more than other chemicals: gloves and goggles.",),
    work=work,
    budget=budget,
    budget_since="1.1",
    catches=(
        missing_grabs,
        unfit_standards,
        coarse_standards,
        no_hold,
        apart,
        other_tap,
        nothing_there,
        moved_away,
    ),
    read=reader_of(Comparison),
    legends={"grab": "Grab"},
)
