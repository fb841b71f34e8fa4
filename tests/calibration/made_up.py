"""A method that asks one field of every kind, made up for tests: a gauge read beside a solution, row by row."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from calibration.compute.asked import (
    SignalRecord,
    asks_of,
    choice,
    number,
    reader_of,
    rows,
    standard,
    words,
    yes_or_no,
)
from calibration.compute.doubts import AT_A_SIGNAL, ask, spoils, stands
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said, value_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One run: what stood beside it and what was shown."""

    beside: Typed | None = number("beside it", "m", "mm", must=True)
    shown: Typed | None = number("display shows", "m", "mm", must=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Everything(SignalRecord):
    """A field of every kind."""

    zero: Typed | None = number("at rest", "mV", signed=True, low="-50", high="50")
    colour: str = choice("colour of the lamp", ("green", "Green"), ("red", "Red"), must=True)
    dry: bool | None = yes_or_no("the hose is dry", must=True)
    bottle: str = standard("solution", "redox solution")
    run: tuple[Run, ...] = rows(Run, 1, 3)
    remark: str = words("remark", rare=True)
    spare: Typed | None = number("spare reading", "m", rare=True)


LIMITS = (
    Limit(
        name="error",
        what="error of a run",
        unit="m",
        of="",
        low=Fraction("-0.05"),
        high=Fraction("0.05"),
        source="made up for a test",
        tag="own judgement",
    ),
    Limit(
        name="dry",
        what="the hose is dry",
        unit="",
        of="",
        low=None,
        high=None,
        source="made up for a test",
        tag="own judgement",
    ),
)


def _work(inputs: Everything, known: Known) -> Worked:
    steps = Steps()
    band = band_for(LIMITS, known, "error")
    for n, run in enumerate(inputs.run, 1):
        error = steps.step(
            f"error_{n}", f"Error of run {n}; {limit_said(band)}", "{s} − {b}", lambda s, b: s - b,
            {"s": run.shown, "b": run.beside}, places=3, unit="m", plus=True, beside=band,
        )  # fmt: skip
        face = "display" if n == 1 else "HMI"
        steps.judge(f"error_{n}", f"error of run {n}", error, band, face=face, standard=value_of(error))
    steps.judge("dry", "the hose is dry", inputs.dry, band_for(LIMITS, known, "dry"))
    return steps.worked(Model(kind="offset"))


def _red(inputs: Everything, known: Known, worked: Worked) -> tuple[Found, ...]:
    if inputs.colour != "red":
        return ()
    sentence = "The lamp was red. Was it read all the same?"
    return (ask("colour", "red", sentence, stands("read", "It was read"), spoils("unread", "It was not")),)


EVERYTHING: Method[Everything] = Method(
    code="everything",
    name="Everything, asked once",
    version="1.0",
    quantity="everything",
    standards=("redox solution",),
    asks=asks_of(Everything),
    limits=LIMITS,
    settings=(
        Ask(name="depth", label="depth of the well", part="settings", units=("m",), must=True, low=Fraction(1)),
        Ask(name="kind", label="kind of well", part="settings", kind="choice", choices=(("deep", "Deep"),)),
    ),
    legends={"run": "Run"},
    headline="error_1",
    cautions=("Nothing here is real.",),
    work=_work,
    catches=(*AT_A_SIGNAL, _red),
    read=reader_of(Everything),
)
ONE_TEST = replace(EVERYTHING, code="one-test", name="One test, nothing after", stages=("as found",))
