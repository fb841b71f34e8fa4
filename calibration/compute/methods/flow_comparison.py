"""Flow beside a portable meter or a twin, at up to three flows.

The HMI is judged at the last flow by the limit of that flow, and the zero with the valve shut in % of the least flow
compared, where it weighs most.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from assets.compute.formulas.flow import error_of_true
from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, rows, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.figures import plain, sentence_case
from calibration.compute.method import Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standard_units import correction, drawn, from_standard, last_digit, other_quantity
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.working import Entry


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """One flow: where in the range, the reference and the meter."""

    where: str = choice(
        "where in the range", ("min", "Least flow"), ("mid", "Usual flow"), ("max", "Most flow"), must=True
    )
    reference: Typed | None = number("reference shows", "m³/h", "L/s", "gal/min", low="0", must=True)
    shown: Typed | None = number("meter shows", "m³/h", "L/s", "gal/min", low="0", must=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside(SignalRecord):
    """One set at a flow meter beside another."""

    standard: str = standard("reference meter", "flow meter")
    point: tuple[Flow, ...] = rows(Flow, 1, 3)
    same_water: bool | None = yes_or_no("all water goes through both", must=True)
    straight: bool | None = yes_or_no("straight pipe before and after as the maker asks", rare=True)
    direction: bool | None = yes_or_no("both in the direction of flow", rare=True)
    self_check: bool | None = yes_or_no("this was the meter's own electronic self-check", rare=True)
    zero: Typed | None = number("meter with the valve shut", "m³/h", "L/s", "gal/min", signed=True, rare=True)
    hmi: Typed | None = number("HMI shows at the last flow", "m³/h", "L/s", "gal/min", low="0", rare=True)


def _limit(name: str, what: str, percent: int) -> Limit:
    return Limit(
        name=name,
        what=what,
        unit="%",
        of="reference",
        low=Fraction(-percent),
        high=Fraction(percent),
        source=f"own judgement: {percent} % here; 3 % at usual and most flow, 5 % at least flow",
        tag="own judgement",
    )


LIMITS = (
    _limit("mid", "error at usual flow", 3),
    _limit("max", "error at most flow", 3),
    _limit("min", "error at least flow", 5),
    Limit(
        name="zero",
        what="meter with the valve shut",
        unit="%",
        of="least flow compared",
        low=Fraction(-1),
        high=Fraction(1),
        source="own judgement: 1 % of the least flow compared, for it is added to every reading",
        tag="own judgement",
    ),
)
WHERE = {"min": "least flow", "mid": "usual flow", "max": "most flow"}


def work(inputs: Beside, known: Known) -> Worked:
    """Judge each flow by its own limit, the HMI at the last one, and the zero."""
    steps = Steps()
    used = known.standards.get(inputs.standard)
    points: list[tuple[Fraction, Fraction]] = []
    last: tuple[str, Entry | None] = ("mid", None)
    for count, one in enumerate(inputs.point, 1):
        if one.where not in WHERE:
            continue
        added = correction(used, one.reference.value, "m³/h") if one.reference is not None else Fraction(0)
        true = steps.step(
            f"true_{count}", f"Point {count}: the reference with its correction", "{r} + {c}", lambda r, c: r + c,
            {"r": one.reference, "c": added}, places=2, unit="m³/h",
        )  # fmt: skip
        _judge(steps, known, f"error_{count}", f"error at {WHERE[one.where]}", one.where, one.shown, true)
        last = (one.where, true)
        if true is not None and one.shown is not None:
            points.append((true.value, one.shown.value))
    where, true = last
    _judge(steps, known, "hmi", f"error of the HMI at {WHERE[where]}", where, inputs.hmi, true, face="HMI")
    _zero(steps, inputs, known, [true for true, _ in points])
    return steps.worked(Model(kind="gain", points=tuple(points)))


def _judge(
    steps: Steps, known: Known, name: str, what: str, where: str, read: Typed | None, true: Entry | None,
    face: str = "display",
) -> None:  # fmt: skip
    band = band_for(LIMITS, known, where)
    error = steps.step(
        name, f"{sentence_case(what)}; {limit_said(band)}", "100 × ({s} − {t}) / {t}",
        lambda s, t: error_of_true(s, t), {"s": read, "t": true}, places=2, unit="%", plus=True, beside=band,
        source=band.source,
    )  # fmt: skip
    said = value_of(true)
    steps.judge(name, what, error, band, of="reference", face=face, at=said, standard=said)


def _zero(steps: Steps, inputs: Beside, known: Known, flows: list[Fraction]) -> None:
    band = band_for(LIMITS, known, "zero")
    zero = steps.step(
        "zero", f"Meter with the valve shut, in % of the least flow compared; {limit_said(band)}", "100 × {z} / {q}",
        lambda z, q: 100 * z / q, {"z": inputs.zero, "q": min(flows, default=None)}, places=2, unit="%", plus=True,
        beside=band, source=band.source,
    )  # fmt: skip
    steps.judge("zero", "meter with the valve shut", zero, band, of="least flow compared", standard=Fraction(0))


Answered = Callable[[Beside], bool]
SPOILT: tuple[tuple[str, Answered, str], ...] = (
    ("same_water", lambda one: one.same_water is False, "Not all water goes through both meters: they cannot agree."),
    (
        "self_check",
        lambda one: bool(one.self_check),
        "A self-check proves the electronics, not the flow. Record it as a note; compare with a flow.",
    ),
    (
        "direction",
        lambda one: one.direction is False,
        "One of the meters stands against the flow. Turn it and read again.",
    ),
)


def spoilt(inputs: Beside, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: not the same water, a self-check, a meter turned round; for the HMI, a forced value."""
    found = tuple(not_valid(name, name, sentence) for name, is_so, sentence in SPOILT if is_so(inputs))
    if not known.forced or inputs.hmi is None:
        return found
    sentence = "A value is forced at this place, so the HMI shows no reading of the meter. It is left out."
    return (*found, not_valid("hmi", "forced", sentence, about="hmi"))


def bends(inputs: Beside, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a portable meter too near to a bend or a valve."""
    if inputs.straight is not False:
        return ()
    sentence = "There is not as much straight pipe as the maker asks. What the reference shows may itself be off."
    return (ask("straight", "bends", sentence, stands("stated", "In its uncertainty"), spoils("off", "Then not")),)


def same_place(inputs: Beside, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: two points said to be at one place of the range. Ask: the usual flow is not among them."""
    named = [one.where for one in inputs.point]
    for count, where in enumerate(named, 1):
        if where and where in named[: count - 1]:
            sentence = f"Point {count}: {WHERE.get(where, where)} stands here twice. Choose where this flow lies."
            return (refuse(f"point{count}_where", "same-place", sentence),)
    if "mid" in named or not any(named):
        return ()
    sentence = "The usual flow was not compared, and most of the water goes through at it. Was it not to be had?"
    return (
        ask(
            "point1_where", "no-usual", sentence, stands("not", "It was not to be had"),
            spoils("later", "Then it is compared at the usual flow"),
        ),
    )  # fmt: skip


def wrong_place(inputs: Beside, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: flows that do not rise from least over usual to most; the wider limit of least flow would be borrowed."""
    placed = sorted(
        (list(WHERE).index(one.where), count, one.reference)
        for count, one in enumerate(inputs.point, 1)
        if one.where in WHERE and one.reference is not None
    )
    for (low, _, less), (high, count, more) in pairwise(placed):
        if low < high and less.value >= more.value:
            names = list(WHERE.values())
            sentence = (
                f"Point {count}: {names[high]} is said to be {plain(more.value)} m³/h, {names[low]} "
                f"{plain(less.value)} m³/h. Choose where each flow lies."
            )
            return (refuse(f"point{count}_where", "wrong-place", sentence),)
    return ()


def no_flow(inputs: Beside, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a point at which the reference saw no flow has no error in % and would be passed over in silence."""
    for count in range(1, len(inputs.point) + 1):
        true = worked.figure(f"true_{count}")
        if true is not None and true <= 0:
            sentence = (
                f"Point {count}: the reference shows no flow, so there is no error in %. Read it with water running."
            )
            return (not_valid(f"point{count}_reference", "no-flow", sentence),)
    return ()


def budget(inputs: Beside, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of each error in %: the reference meter's and the last digit of both meters."""
    used = known.standards.get(inputs.standard)
    found: dict[str, Budget] = {}
    for count, one in enumerate(inputs.point, 1):
        read = [(f"error_{count}", f"error of point {count}", one.shown)]
        if count == len(inputs.point):
            read.append(("hmi", "error of the HMI", inputs.hmi))
        true = Fraction(worked.figure(f"true_{count}") or 0)
        for name, what, shown in read:
            if true <= 0 or shown is None or one.reference is None:
                continue
            per_true = -100 * shown.value / true**2
            parts = (
                from_standard(used, unit="m³/h", sensitivity=per_true),
                last_digit(one.reference, "m³/h", sensitivity=per_true, name="last digit of the reference"),
                last_digit(shown, "m³/h", sensitivity=100 / true),
            )
            found |= drawn(parts, name=name, what=what, unit="%")
    return found


METHOD: Method[Beside] = Method(
    code="flow-comparison",
    name="Flow meter, beside another meter",
    version="1.1",
    quantity="flow",
    standards=("flow meter",),
    asks=asks_of(Beside),
    limits=LIMITS,
    settings=(),
    cautions=(
        "Pits and chambers with meters are confined spaces: entry by permit only.",
        "A meter under pressure is not opened; isolate, relieve and lock first.",
    ),
    work=work,
    budget=budget,
    catches=(
        *AT_A_SIGNAL, spoilt, bends, same_place, wrong_place, no_flow, other_quantity("standard", "m³/h"),
        reminder("hmi", "hmi", "Read the HMI at the last flow too: scaling is lost between meter and screen."),
        reminder("zero", "zero", "With the valve shut the meter shows nought; write what it shows."),
        reminder("straight", "straight", "A portable meter needs straight pipe before and after. Say whether it had."),
    ),
    read=reader_of(Beside),
    legends={"point": "Point"},
    headline="error_1",
)  # fmt: skip
