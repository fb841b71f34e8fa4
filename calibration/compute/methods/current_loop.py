"""A 4 to 20 mA loop: a current injected, read at every face. Each face has a verdict of its own.

What the certificate of the source adds to its display is added to each current.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from assets.compute.formulas.current_loop import signal_band, value_at
from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, rows, standard, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, fails, not_valid, refuse, remind, reminder, spoils, stands
from calibration.compute.figures import plain
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standard_units import correction, drawn, from_standard, last_digit, other_quantity
from calibration.compute.standards import Standard
from calibration.compute.steps import Steps, limit_said
from calibration.compute.working import Entry

OPENED = {
    "alarm": "Alarm, and the safe action",
    "low": "It reads the lower end, no alarm",
    "last": "It keeps the last value, no alarm",
    "not": "Not tried",
}
LEAST_POINTS, WIDE = 3, Fraction(12)
APART = Fraction(1, 2)
"""Currents nearer than this, mA, are one point again; own judgement."""

VALID = {"under-range", "measurement", "over-range"}
FACES = (("transmitter", "Transmitter"), ("plc", "PLC"), ("hmi", "HMI"), ("report", "Report"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Injected:
    """One current, and what each face makes of it."""

    current: Typed | None = number("injected", "mA", low="0", high="25", must=True)
    transmitter: Typed | None = number("transmitter shows", rare=True)
    plc: Typed | None = number("PLC shows", rare=True)
    hmi: Typed | None = number("HMI shows", must=True)
    report: Typed | None = number("report shows", rare=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop(SignalRecord):
    """One set at a loop."""

    standard: str = standard("current source", "source")
    point: tuple[Injected, ...] = rows(Injected, LEAST_POINTS, 6)
    opened: str = choice("with the loop open", *OPENED.items(), must=True)
    supply: Typed | None = number("loop supply", "V", low="0", high="60", rare=True)
    clamped: bool | None = yes_or_no("a face stands still at its end though the current goes on", rare=True)


def _end(name: str, label: str, *, must: bool = False) -> Ask:
    return Ask(name=name, label=label, part="settings", must=must, low=Fraction(-100000), high=Fraction(10**7))


SETTINGS = (
    _end("lower", "lower end of the range (4 mA)", must=True),
    _end("upper", "upper end of the range (20 mA)", must=True),
    _end("plc_lower", "lower end scaled in the PLC"),
    _end("plc_upper", "upper end scaled in the PLC"),
    _end("hmi_lower", "lower end scaled in the HMI"),
    _end("hmi_upper", "upper end scaled in the HMI"),
)

LIMITS = (
    Limit(
        name="error",
        what="error at a face",
        unit="%",
        of="span",
        low=Fraction(-1, 2),
        high=Fraction(1, 2),
        source="common practice, no source: 0.5 % of span",
        tag="common practice",
    ),
    Limit(
        name="open",
        what="an open loop alarms and acts safely",
        unit="",
        of="",
        low=None,
        high=None,
        source="what a live zero is for",
        tag="own judgement",
    ),
)


def _ends(known: Known) -> tuple[Fraction, Fraction] | None:
    lower, upper = known.number("lower"), known.number("upper")
    return (lower, upper) if lower is not None and upper is not None and lower != upper else None


def work(inputs: Loop, known: Known) -> Worked:
    """Work out what each current stands for, and the error of every face in % of span."""
    steps = Steps()
    ends = _ends(known)
    points: list[tuple[Fraction, Fraction]] = []
    for count, one in enumerate(inputs.point, 1):
        if ends is None or one.current is None:
            continue
        lower, upper = ends
        current = _current(steps, known.standards.get(inputs.standard), one.current, count)
        band = signal_band(current.value)
        expected = steps.step(
            f"expected_{count}", f"Point {count}: what it stands for ({band} by NE 43)",
            "{l} + ({i} − 4) / 16 × ({u} − {l})", lambda l, i, u: value_at(i, l, u),  # noqa: E741
            {"l": lower, "i": current, "u": upper}, places=3, unit="",
        )  # fmt: skip
        if band not in VALID:
            steps.say(f"Point {count}: no signal of a measurement, so no face is judged here")
            continue
        for code, face in FACES:
            read: Typed | None = getattr(one, code)
            _face(steps, (code, face), read, expected, (count, abs(upper - lower)), known)
        if expected is not None and one.hmi is not None:
            points.append((expected.value, one.hmi.value))
    if inputs.opened in {"alarm", "low", "last"}:
        acts = band_for(LIMITS, known, "open")
        steps.say(f"With the loop open: {OPENED[inputs.opened]}", source=acts.source)
        steps.judge("open", "an open loop alarms and acts safely", inputs.opened == "alarm", acts, face="HMI")
    return steps.worked(Model(kind="by points", points=tuple(points)))


def _current(steps: Steps, used: Standard | None, typed: Typed, count: int) -> Typed | Entry:
    """Return the current injected, with what the certificate of the source adds to it."""
    added = correction(used, typed.value, "mA")
    corrected = None if not added else steps.step(
        f"current_{count}", f"Point {count}: the source with its correction", "{i} + {c}", lambda i, c: i + c,
        {"i": typed, "c": added}, places=3, unit="mA",
    )  # fmt: skip
    return typed if corrected is None else corrected


def _face(
    steps: Steps,
    face: tuple[str, str],
    read: Typed | None,
    expected: Entry | None,
    place: tuple[int, Fraction],
    known: Known,
) -> None:
    (code, words), (count, span) = face, place
    band = band_for(LIMITS, known, "error")
    error = steps.step(
        f"error_{count}_{code}", f"Point {count} at the {words}; {limit_said(band)}", "100 × ({s} − {e}) / {w}",
        lambda s, e, w: 100 * (s - e) / w, {"s": read, "e": expected, "w": span}, places=2, unit="%", plus=True,
        beside=band, source=band.source,
    )  # fmt: skip
    steps.judge(
        f"error_{count}_{code}", f"error at the {words}, point {count}", error, band, of="span", face=words,
        standard=expected.value if expected is not None else None,
    )  # fmt: skip


def no_range(inputs: Loop, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a current without a range stands for nothing."""
    if _ends(known) is not None:
        return ()
    sentence = "The ends of the range are not written for this tag, or are the same. A supervisor writes both."
    return (refuse("point1_current", "no-range", sentence),)


def narrow(inputs: Loop, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: no current of a measurement. Ask: currents that leave most of the range unseen; own judgement."""
    typed = [one.current for one in inputs.point if one.current is not None]
    inside = [one for one in typed if signal_band(one.value) in VALID]
    if typed and not inside:
        sentence = "No current from 3.8 to 20.5 mA was injected, so no face could be judged. Inject 4, 12 and 20 mA."
        return (not_valid("point1_current", "no-measurement", sentence),)
    if len(typed) < LEAST_POINTS:
        return ()
    rising = sorted(inside, key=lambda one: one.value)
    different = 1 + sum(after.value - before.value >= APART for before, after in pairwise(rising))
    if rising[-1].value - rising[0].value >= WIDE and different >= LEAST_POINTS:
        return ()
    sentence = (
        f"The currents run from {rising[0].text} to {rising[-1].text} mA, {different} different ones. Both ends and "
        "the middle tell of a loop."
    )
    choices = (stands("part", "No more of it could be injected"), spoils("more", "Then more is injected"))
    return (ask("point1_current", "narrow", sentence, *choices),)


def other_scale(inputs: Loop, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a face scaled otherwise than the transmitter shows wrong values of a good signal."""
    found: list[Found] = []
    ends = _ends(known)
    for code, words in (("plc", "PLC"), ("hmi", "HMI")):
        lower, upper = known.number(f"{code}_lower"), known.number(f"{code}_upper")
        if ends is None or lower is None or upper is None or (lower, upper) == ends:
            continue
        sentence = (
            f"The {words} is scaled {plain(lower)} to {plain(upper)}, the transmitter {plain(ends[0])} to "
            f"{plain(ends[1])}. Every value between is wrong."
        )
        found.append(
            ask(
                f"point1_{code}", f"scale-{code}", sentence, fails("so", "It is so"),
                spoils("written", "It is written wrongly here: correct the settings"),
            )
        )  # fmt: skip
    return tuple(found)


def silent_break(inputs: Loop, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: the open loop was not tried, though something depends on this signal; remind where nothing does."""
    if inputs.opened != "not":
        return ()
    if not known.uses:
        sentence = "The open loop was not tried. Try it once: a broken loop that reads its lower end is believed."
        return (remind("opened", "not-tried", sentence),)
    sentence = (
        f"The open loop was not tried, and this signal {' and '.join(known.uses)}. A broken loop that reads its lower "
        "end doses in silence. Try it, or say why not."
    )
    return (ask("opened", "silent", sentence, stands("cannot", "It cannot be tried while the plant runs")),)


def clamped(inputs: Loop, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a face that stands still at its end shows a failed signal as a measurement."""
    if not inputs.clamped:
        return ()
    sentence = "A face that stands still at its end hides a failure. Its limits must let 3.6 and 21 mA through."
    return (
        ask(
            "clamped", "clamped", sentence, fails("hides", "It hides a failed signal"),
            stands("alarm", "It alarms all the same"),
        ),
    )  # fmt: skip


def zero_based(inputs: Loop, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a face that shows what the current would be worth from 0 to 20 mA."""
    ends = _ends(known)
    if ends is None:
        return ()
    span = ends[1] - ends[0]
    for count, one in enumerate(inputs.point, 1):
        if one.current is None or one.hmi is None:
            continue
        otherwise = ends[0] + one.current.value / 20 * span
        tells = abs(otherwise - value_at(one.current.value, *ends)) > abs(span) / 50
        if tells and abs(one.hmi.value - otherwise) <= abs(span) / 100:
            sentence = f"“{one.hmi.text}” is what {one.current.text} mA are from 0 to 20 mA. Is a card set so?"
            return (
                ask(
                    f"point{count}_hmi", "zero-based", sentence, fails("so", "It is set so"),
                    stands("no", "Looked: 4 to 20 mA"),
                ),
            )  # fmt: skip
    return ()


def budget(inputs: Loop, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of each error at each face in % of span: the source's and the last digit of the face."""
    used, ends = known.standards.get(inputs.standard), _ends(known)
    if ends is None:
        return {}
    span = abs(ends[1] - ends[0])
    judged = {one.name: one.what for one in worked.judged}
    found: dict[str, Budget] = {}
    for count, one in enumerate(inputs.point, 1):
        for code, _ in FACES:
            read, name = getattr(one, code), f"error_{count}_{code}"
            if read is not None and name in judged:
                parts = (
                    from_standard(used, unit="mA", sensitivity=Fraction(-100, 16)),
                    last_digit(read, "", sensitivity=100 / span),
                )
                found |= drawn(parts, name=name, what=judged[name], unit="%")
    return found


METHOD: Method[Loop] = Method(
    code="current-loop",
    name="Current loop, to every face",
    version="1.1",
    quantity="signal",
    standards=("source",),
    asks=asks_of(Loop),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "The injected current moves whatever this signal paces: hold or manual first, and tell whoever watches.",
        "Terminals may carry mains beside the loop: covers, insulated tools, lock where work is on live parts.",
    ),
    work=work,
    budget=budget,
    catches=(
        *AT_A_SIGNAL, no_range, narrow, other_scale, silent_break, clamped, zero_based,
        other_quantity("standard", "mA"),
        reminder("supply", "supply", "A weak supply holds at 12 mA and falls at 20: write it once a year."),
        reminder("point1_report", "report", "Once a year look at the report too: it has a scale of its own."),
    ),
    read=reader_of(Loop),
    legends={"point": "Point"},
    words={
        "error": "What a face shows minus what the current stands for, in % of the span and not of the reading.",
    },
    headline="error_1_hmi",
    sees="to HMI",
)  # fmt: skip
