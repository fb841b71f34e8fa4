"""Streaming current: has no standard. It responds to a deliberate coagulant step, or it does not; never an accuracy.

There is no uncertainty of its result: nothing is compared with a standard, it answers or it does not.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, words, yes_or_no
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, remind, reminder, spoils, stands
from calibration.compute.method import Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said


@dataclass(frozen=True, slots=True, kw_only=True)
class Response(SignalRecord):
    """One test of a streaming current monitor."""

    before: Typed | None = number("shows before the step", signed=True, low="-1000", high="1000", must=True)
    after: Typed | None = number("shows after the step", signed=True, low="-1000", high="1000", must=True)
    step: Typed | None = number("coagulant raised by", "%", low="1", high="50", must=True)
    minutes: Typed | None = number(
        "minutes until it answered", "min", low="0", high="120", must=True, advice="No answer: how long you waited."
    )
    cleaned: bool | None = yes_or_no("cleaned before the step", must=True)
    flow: bool | None = yes_or_no("sample flow is right", must=True)
    lowered: bool | None = yes_or_no("coagulant was lowered, not raised", rare=True)
    probe: bool | None = yes_or_no("probe changed since the last test", rare=True)
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
        what="change to the right side: towards plus for more coagulant",
        unit="",
        of="",
        low=Fraction(1, 100),
        high=None,
        source="own judgement: a change that can be read, in the right direction",
        tag="own judgement",
    ),
    Limit(
        name="minutes",
        what="minutes until it answered",
        unit="min",
        of="",
        low=None,
        high=Fraction(20),
        source="own judgement: later than that something else has changed the water too",
        tag="own judgement",
    ),
)


def work(inputs: Response, known: Known) -> Worked:
    """Tell whether it answered in time and with the right sign: more coagulant moves it towards plus."""
    steps = Steps()
    band, within = (band_for(LIMITS, known, name) for name in ("responds", "minutes"))
    change = steps.step(
        "change", "Change after the step", "{a} − {b}", lambda a, b: a - b, {"a": inputs.after, "b": inputs.before},
        places=2, unit="", plus=True,
    )  # fmt: skip
    if change is not None:
        wanted = -change.value if inputs.lowered else change.value
        responds = band.low is None or wanted >= band.low
        rule = "Less coagulant moves it towards minus: " if inputs.lowered else "More coagulant moves it towards plus: "
        steps.say(rule + ("it responds" if responds else "it does not respond"), source=band.source)
        steps.judge("responds", "responds to a coagulant step", responds, band)
    if inputs.minutes is not None:
        text = f"Minutes until it answered; {limit_said(within)}"
        steps.say(text, value=inputs.minutes.text, unit="min", source=within.source)
        steps.judge("minutes", "minutes until it answered", inputs.minutes.value, within)
    return steps.worked(Model(kind="window"))


def spoilt(inputs: Response, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: no sample flow. Ask: pH moved, which changes the charge by itself; an answer before water came."""
    found: list[Found] = []
    if inputs.flow is False:
        found.append(not_valid("flow", "flow", "The sample flow was not right. Set it and repeat the step."))
    if inputs.ph_moved:
        sentence = "pH moved meanwhile and changes the charge by itself. Was the answer that of the coagulant?"
        found.append(
            ask("ph_moved", "ph", sentence, stands("small", "pH moved too little for that"), spoils("ph", "It was pH"))
        )
    if inputs.minutes is not None and inputs.minutes.value == 0:
        sentence = "It answered in no time, though the dosed water needs minutes to reach it. What did it answer to?"
        found.append(
            ask(
                "minutes", "at-once", sentence, stands("near", "It sits right after the mixer"),
                spoils("else", "To something else than the step"),
            )
        )  # fmt: skip
    return tuple(found)


def wrong_way(inputs: Response, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: it moved against the step, as it does when the coagulant was lowered and that is not written."""
    change = worked.figure("change")
    if change is None or inputs.lowered is not None or change >= 0:
        return ()
    sentence = "It moved towards minus. If the coagulant was lowered, say so; if it was raised, it answers wrongly."
    return (remind("lowered", "wrong-way", sentence),)


def blind(inputs: Response, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: with the sample shut it shows what it shows with water, so that it may not see the water at all."""
    least = band_for(LIMITS, known, "responds").low
    if inputs.off is None or inputs.before is None or least is None:
        return ()
    if abs(inputs.off.value - inputs.before.value) >= least:
        return ()
    sentence = (
        f"It shows “{inputs.off.text}” with the sample shut and “{inputs.before.text}” with water. Does it see the "
        "water?"
    )
    return (
        ask(
            "off", "blind", sentence, stands("neutral", "The charge of this water is near its own zero"),
            spoils("blind", "It does not see the water"),
        ),
    )  # fmt: skip


def set_point_carried(inputs: Response, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: after a clean or with another probe the old set point belongs to another zero.

    Only a new set point with the reason for it settles that; that it was not moved is the very thing to ask about.
    """
    if not (inputs.cleaned or inputs.probe):
        return ()
    if inputs.set_point is not None and inputs.why in {"jar", "turbidity"}:
        return ()
    done = "Another probe has another zero" if inputs.probe else "It was cleaned, which moves its zero"
    sentence = f"{done}. Was the set point proved again by a jar test or by turbidity?"
    return (
        ask(
            "set_point", "carried", sentence, stands("proved", "Proved: it stays where it is"),
            stands("later", "Will be proved today, dosing is in manual"),
        ),
    )  # fmt: skip


def set_point_moved(inputs: Response, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a new set point without its reason, or one said not to be moved. Ask: a reason without a set point."""
    if inputs.set_point is not None and inputs.why == "":
        sentence = (
            f"The set point was moved to “{inputs.set_point.text}”. Say because of what: a jar test or turbidity."
        )
        return (refuse("why", "no-reason", sentence),)
    if inputs.set_point is not None and inputs.why == "no":
        sentence = (
            f"A new set point, “{inputs.set_point.text}”, is written, and that it was not moved. Mend one of them."
        )
        return (refuse("why", "moved-or-not", sentence),)
    if inputs.set_point is not None or inputs.why not in {"jar", "turbidity"}:
        return ()
    sentence = "A reason for moving the set point is given and no new set point. Write it, or say that it stays."
    return (ask("set_point", "no-set-point", sentence, stands("stays", "The test proved the old one: it stays")),)


METHOD: Method[Response] = Method(
    code="streaming-current",
    name="Streaming current, response to a step",
    version="1.1",
    quantity="charge",
    standards=(),
    asks=asks_of(Response),
    limits=LIMITS,
    cautions=("The step changes the water: watch the filters, and set the coagulant back when it has answered.",),
    work=work,
    catches=(
        *AT_A_SIGNAL, spoilt, wrong_way, blind, set_point_carried, set_point_moved,
        reminder("off", "shut", "With the sample shut it should go towards its own zero; write what it shows."),
    ),
    read=reader_of(Response),
    stages=("as found",),
    headline="responds",
    skipped_by=frozenset({"chart", "drift", "pooling"}),
)  # fmt: skip
