"""Streaming current: has no standard. It responds to a deliberate coagulant step, or it does not; never an accuracy."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, words, yes_or_no
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, reminder, spoils, stands
from calibration.compute.method import Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps


@dataclass(frozen=True, slots=True, kw_only=True)
class Response(SignalRecord):
    """One test of a streaming current monitor."""

    before: Typed | None = number("shows before the step", signed=True, low="-1000", high="1000", must=True)
    after: Typed | None = number("shows after the step", signed=True, low="-1000", high="1000", must=True)
    step: Typed | None = number("coagulant raised by", "%", low="1", high="50", must=True)
    minutes: Typed | None = number("minutes until it answered", "min", low="0", high="120", must=True)
    cleaned: bool | None = yes_or_no("cleaned before the step", must=True)
    flow: bool | None = yes_or_no("sample flow is right", must=True)
    off: Typed | None = number("shows with the sample shut", signed=True, low="-1000", high="1000", rare=True)
    ph_moved: bool | None = yes_or_no("pH moved meanwhile", rare=True)
    set_point: Typed | None = number("new set point", signed=True, low="-1000", high="1000", rare=True)
    why: str = choice(
        "set point moved because of",
        ("jar", "a jar test"),
        ("turbidity", "settled or filtered turbidity"),
        ("no", "not moved"),
        rare=True,
    )
    note: str = words("what else", rare=True)


LIMITS = (
    Limit(
        name="responds",
        what="rise towards plus for more coagulant",
        unit="",
        of="",
        low=Fraction(1, 100),
        high=None,
        source="own judgement: a change that can be read, in the right direction",
        tag="own judgement",
    ),
)


def work(inputs: Response, known: Known) -> Worked:
    """Tell whether it answered, with the right sign: more coagulant moves it towards plus."""
    steps = Steps()
    band = band_for(LIMITS, known, "responds")
    change = steps.step(
        "change", "Change after the step", "{a} − {b}", lambda a, b: a - b, {"a": inputs.after, "b": inputs.before},
        places=2, unit="", plus=True,
    )  # fmt: skip
    if change is not None:
        responds = band.low is None or change.value >= band.low
        steps.say("More coagulant moves it towards plus: " + ("it responds" if responds else "it does not respond"))
        steps.judge("responds", "responds to a coagulant step", responds, band)
    return steps.worked(Model(kind="window"))


def spoilt(inputs: Response, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: no sample flow. Ask: pH moved, which changes the charge by itself."""
    found: list[Found] = []
    if inputs.flow is False:
        found.append(not_valid("flow", "flow", "The sample flow was not right. Set it and repeat the step."))
    if inputs.ph_moved:
        sentence = "pH moved meanwhile and changes the charge by itself. Was the answer that of the coagulant?"
        found.append(
            ask("ph_moved", "ph", sentence, stands("small", "pH moved too little for that"), spoils("ph", "It was pH"))
        )
    return tuple(found)


def set_point_carried(inputs: Response, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: after a clean or another probe the old set point belongs to another zero."""
    if not inputs.cleaned or inputs.set_point is not None or inputs.why == "no" and known.settings.get("set_point"):
        return ()
    if inputs.why:
        return ()
    sentence = "It was cleaned, which moves its zero. Was the set point proved again by a jar test or by turbidity?"
    return (
        ask(
            "set_point", "carried", sentence, stands("proved", "Proved: it stays where it is"),
            stands("later", "Will be proved today, dosing is in manual"),
        ),
    )  # fmt: skip


METHOD: Method[Response] = Method(
    code="streaming-current",
    name="Streaming current, response to a step",
    version="1.0",
    quantity="charge",
    standards=(),
    asks=asks_of(Response),
    limits=LIMITS,
    cautions=("The step changes the water: watch the filters, and set the coagulant back when it has answered.",),
    work=work,
    catches=(
        *AT_A_SIGNAL, spoilt, set_point_carried,
        reminder("off", "shut", "With the sample shut it should go towards its own zero; write what it shows."),
    ),
    read=reader_of(Response),
    stages=("as found",),
    headline="responds",
    skipped_by=frozenset({"chart", "drift", "pooling"}),
)  # fmt: skip
