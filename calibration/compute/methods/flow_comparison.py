"""Flow beside a portable meter or a twin, at up to three flows."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.formulas.flow import error_of_true
from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, rows, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.method import Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said, value_of
from calibration.compute.usual_budget import against_standard


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
)
WHERE = {"min": "least flow", "mid": "usual flow", "max": "most flow"}


def work(inputs: Beside, known: Known) -> Worked:
    """Judge each flow by its own limit."""
    steps = Steps()
    used = known.standards.get(inputs.standard)
    points: list[tuple[Fraction, Fraction]] = []
    for count, one in enumerate(inputs.point, 1):
        if one.where not in WHERE:
            continue
        correction = used.correction_at(one.reference.value) if used is not None and one.reference is not None else 0
        true = steps.step(
            f"true_{count}", f"Point {count}: the reference with its correction", "{r} + {c}", lambda r, c: r + c,
            {"r": one.reference, "c": Fraction(correction)}, places=2, unit="m³/h",
        )  # fmt: skip
        band = band_for(LIMITS, known, one.where)
        error = steps.step(
            f"error_{count}", f"Error at {WHERE[one.where]}; {limit_said(band)}", "100 × ({s} − {t}) / {t}",
            lambda s, t: error_of_true(s, t), {"s": one.shown, "t": true}, places=2, unit="%", plus=True, beside=band,
            source=band.source,
        )  # fmt: skip
        said = value_of(true)
        steps.judge(
            f"error_{count}", f"error at {WHERE[one.where]}", error, band, of="reference", at=said, standard=said
        )
        if true is not None and one.shown is not None:
            points.append((true.value, one.shown.value))
    return steps.worked(Model(kind="gain", points=tuple(points)))


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
    """Not valid: not the same water, a self-check taken for a comparison, a meter turned round."""
    return tuple(not_valid(name, name, sentence) for name, is_so, sentence in SPOILT if is_so(inputs))


def bends(inputs: Beside, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a portable meter too near to a bend or a valve."""
    if inputs.straight is not False:
        return ()
    sentence = "There is not as much straight pipe as the maker asks. What the reference shows may itself be off."
    return (ask("straight", "bends", sentence, stands("stated", "In its uncertainty"), spoils("off", "Then not")),)


def same_place(inputs: Beside, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: two points said to be at the same place of the range."""
    named = [one.where for one in inputs.point if one.where]
    for count, where in enumerate(named, 1):
        if where in named[: count - 1]:
            sentence = f"Point {count}: {WHERE.get(where, where)} stands here twice. Choose where this flow lies."
            return (refuse(f"point{count}_where", "same-place", sentence),)
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
    """Return the uncertainty of each error in %: the reference meter's and the last digit."""
    used = known.standards.get(inputs.standard)
    found: dict[str, Budget] = {}
    for count, one in enumerate(inputs.point, 1):
        true = worked.figure(f"true_{count}")
        if true and one.shown is not None:
            value = Fraction(true)
            found |= against_standard(
                used, one.shown, name=f"error_{count}", what=f"error of point {count}", unit="%",
                per_read=100 / value, per_standard=-100 * one.shown.value / value**2,
            )  # fmt: skip
    return found


METHOD: Method[Beside] = Method(
    code="flow-comparison",
    name="Flow meter, beside another meter",
    version="1.0",
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
        *AT_A_SIGNAL, spoilt, bends, same_place, no_flow,
        reminder("hmi", "hmi", "Read the HMI at the last flow too: scaling is lost between meter and screen."),
    ),
    read=reader_of(Beside),
    legends={"point": "Point"},
    headline="error_1",
)  # fmt: skip
