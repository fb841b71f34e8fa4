"""Grab samples beside an analyzer: their mean, the one that lies apart, when one is enough, where the error went."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from typing import Any

from calibration.compute.asked import written
from calibration.compute.budget import Budget, budget_of, from_repeats
from calibration.compute.doubts import ask, fails, missing_values, refuse, stands
from calibration.compute.method import Ask, Found, Known, Typed, Worked
from calibration.compute.standard_units import from_standard, last_digit
from calibration.compute.standards import Standard
from calibration.compute.steps import Number, Steps
from calibration.compute.working import Entry

ONE_GRAB = Ask(
    name="one_grab",
    label="one grab is enough for a comparison here",
    part="settings",
    kind="choice",
    choices=(("yes", "Yes"), ("no", "No, a pair")),
)
"""Asked once with the requirement. An adjustment rests on a pair whatever is chosen."""


def mean_of(steps: Steps, name: str, text: str, values: Iterable[Typed], *, places: int, unit: str) -> Entry | None:
    """Take the mean of readings as a step of the working; None of none."""
    numbers: dict[str, Number] = {f"v{number}": value for number, value in enumerate(values, 1)}
    if not numbers:
        return None
    pattern = f"({' + '.join('{' + key + '}' for key in numbers)}) / {len(numbers)}"
    return steps.step(
        name, text, pattern, lambda **v: sum(v.values(), Fraction(0)) / len(v), numbers, places=places, unit=unit
    )


def farthest(values: Sequence[Fraction]) -> int:
    """Return the index of the value that lies farthest from the median; of those equally far, the last."""
    middle = sorted(values)
    half = len(values) // 2
    median = middle[half] if len(values) % 2 else (middle[half - 1] + middle[half]) / 2
    return max(range(len(values)), key=lambda at: (abs(values[at] - median), at))


def missing_grabs(inputs: Any, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse what must be written, and a second grab that nobody took, unless the site says that one is enough.

    An adjustment rests on a pair: as left there are always two, but where nothing was done and as found counts.
    """
    found = missing_values(inputs, known, worked)
    second = [one for one in written(inputs) if one.name.startswith("grab2_")]
    unread = any(one.field.startswith("grab2_") for one in inputs.unread)
    if len(inputs.grab) > 2 or unread or not all(one.is_empty for one in second):
        return found
    others = tuple(one for one in found if not one.field.startswith("grab2_"))
    adjusting = inputs.kind == "as left" and not inputs.unchanged
    if known.settings.get("one_grab") == "yes" and not adjusting:
        return others
    why = "An adjustment rests on a pair" if adjusting else "One grab can be wrong by itself"
    sentence = f"Grab 2: nothing is written. {why}; take a second from the same line."
    return (*others, refuse("grab2_bench", "second-grab", sentence))


def moved_away(inputs: Any, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: as left the error is larger than as found and to the same side, as an adjustment of the wrong sign does."""
    before, after = known.last.get("error"), worked.figure("error")
    if inputs.kind != "as left" or inputs.unchanged or before is None or after is None:
        return ()
    if before * Fraction(after) <= 0 or abs(Fraction(after)) <= abs(before):
        return ()
    side = "high" if before > 0 else "low"
    sentence = (
        f"As found the analyzer read {side}, and as left it reads still {'higher' if before > 0 else 'lower'}. "
        "Was it adjusted the wrong way?"
    )
    return (
        ask(
            "grab1_shown", "wrong-way", sentence, stands("right", "The right way: something else moved"),
            fails("wrong way", "The wrong way, and it is left so"),
        ),
    )  # fmt: skip


def pair_budget(
    used: Standard | None, pairs: Sequence[tuple[Typed, Typed]], *, what: str, unit: str, result: str,
    per_read: Fraction = Fraction(1), per_grab: Fraction = Fraction(-1),
) -> Budget | None:  # fmt: skip
    """Return the budget of an error from pairs of analyzer and grab.

    Both are read: the bench meter's certificate, the coarsest last digit of either, and how the differences repeat.
    `unit`: of what is read; `result`: of the error; `per_read`, `per_grab`: what the error changes with either. None
    for a meter that states no uncertainty, and for one grab, which does not show how it repeats.
    """
    if len(pairs) < 2:
        return None
    coarse = tuple(min(column, key=lambda one: one.decimals) for column in zip(*pairs, strict=True))
    # With the mean of the pairs as the error, each single pair moves it as `per_read` and `per_grab` say.
    alone = tuple(per_read * read.value + per_grab * grab.value for read, grab in pairs)
    parts = (
        from_standard(used, sensitivity=per_grab, unit=unit),
        last_digit(coarse[0], unit, sensitivity=per_read, name="last digit of the analyzer"),
        last_digit(coarse[1], unit, sensitivity=per_grab, name="last digit of the grabs"),
        from_repeats(alone, "repeats", "the pairs of this set"),
    )
    return budget_of(parts, unit=result, name=what)
