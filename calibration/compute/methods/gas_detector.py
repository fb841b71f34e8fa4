"""Gas and leak detectors: zero air, then a known gas: shown, how soon, and whether horn and fan acted."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, choice, number, reader_of, yes_or_no
from calibration.compute.asked import standard as a_standard
from calibration.compute.budget import Budget, budget_of, from_certificate, from_resolution
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, remind, reminder, spoils, stands
from calibration.compute.figures import sentence_case
from calibration.compute.method import Ask, Band, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said, value_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Detector(SignalRecord):
    """One set at a gas detector."""

    way: str = choice(
        "what is done", ("bump", "Bump: does it alarm in time"), ("calibration", "Calibration: zero and gas"), must=True
    )
    gas: str = a_standard("test gas", "gas")
    zero: Typed | None = number(
        "shows in zero air", signed=True, low="-100", high="1000", advice="A calibration needs it; a bump does not."
    )
    clean_air: bool | None = yes_or_no("zero in clean air or zero gas", must=True)
    shown: Typed | None = number("shows in the gas", low="0", high="1000000", must=True)
    seconds: Typed | None = number("seconds to 90 %", "s", low="0", high="600", rare=True)
    horn: bool | None = yes_or_no("horn and lamp acted", must=True)
    fan: bool | None = yes_or_no("fan or shut-off acted", rare=True)
    regulator: bool | None = yes_or_no("regulator and flow as the maker asks", must=True)
    other_gas: Typed | None = number("factor, where the gas is another than the target", low="0", high="100", rare=True)
    age: Typed | None = number("age of the sensor", "d", low="0", high="5000", rare=True)


SETTINGS = (
    Ask(name="target", label="gas it is for", part="settings", kind="text"),
    Ask(
        name="longest",
        label="longest time to 90 %",
        part="settings",
        units=("s",),
        low=Fraction(0),
        high=Fraction(600),
    ),
    Ask(
        name="unit", label="what it shows", part="settings", kind="choice",
        choices=(("ppm", "ppm"), ("%", "% by volume"), ("lel", "% of the lower explosive limit")),
        advice="Empty: ppm.",
    ),
)  # fmt: skip


LEAST_LEL = Fraction(10)
"""Below it a bottle in per cent is taken for one by volume, and asked about; own judgement."""

SHOWS = {"ppm": "ppm", "%": "%", "lel": "% LEL"}


def _shows(known: Known) -> str:
    return known.settings.get("unit") or "ppm"


def _allowed(known: Known, gas: Fraction) -> Fraction:
    least = Fraction("0.2") if _shows(known) == "ppm" else Fraction(0)
    return max(least, gas / 10)


def _band(known: Known, gas: Fraction, name: str = "error") -> Band:
    """Return the limit in the unit the detector shows; a limit of the site's own keeps its unit.

    A site that has written its own error in the gas and no zero in ppm means both by it.
    """
    if name == "zero" and name not in known.limits and "error" in known.limits and _shows(known) == "ppm":
        return known.limits["error"]
    band = band_for(LIMITS, known, name, standard=gas)
    return band if name in known.limits else replace(band, unit=SHOWS[_shows(known)])


LONGEST = Fraction(60)
"""Seconds until the maker's are written; own judgement."""

OLD_DAYS = 1095
"""Days after which a sensor is said to be old: two or three years, common practice."""

OTHER_COMPOUND = r"(?![\s-]+\w*(?:ide|ine|ate)\b)"
"""What may not follow the name of a gas: chlorine dioxide is no chlorine, hydrogen sulfide no hydrogen."""


def _longest(known: Known, gas: Fraction) -> Fraction:
    written = known.number("longest")
    return LONGEST if written is None else written


def _zero_allowed(known: Known, gas: Fraction) -> Fraction:
    return Fraction("0.2") if _shows(known) == "ppm" else gas / 10


LIMITS = (
    Limit(
        name="error",
        what="error in the gas",
        unit="ppm",
        of="",
        low=lambda known, gas: -_allowed(known, gas),
        high=_allowed,
        source="common practice, no source: the larger of 10 % and 0.2 ppm",
        tag="common practice",
    ),
    Limit(
        name="zero",
        what="in zero air",
        unit="ppm",
        of="",
        low=lambda known, gas: -_zero_allowed(known, gas),
        high=_zero_allowed,
        source="common practice, no source: 0.2 ppm; in per cent a tenth of the test gas, own judgement",
        tag="common practice",
    ),
    Limit(
        name="seconds",
        what="time to 90 %",
        unit="s",
        of="",
        low=None,
        high=_longest,
        source="the maker's; 60 s until it is written, own judgement",
        tag="site setting",
    ),
    Limit(name="so", what="acts", unit="", of="", low=None, high=None, source="what it is for", tag="own judgement"),
)


def work(inputs: Detector, known: Known) -> Worked:
    """Judge the error in the gas of a calibration, the time, and that it alarms; a bump is judged by alarm and time."""
    steps = Steps()
    used = known.standards.get(inputs.gas)
    factor = inputs.other_gas.value if inputs.other_gas is not None else Fraction(1)
    unit = SHOWS[_shows(known)]
    true = steps.given(
        "true", "The gas as this detector should show it", used.nominal * factor if used else None, places=1,
        unit=unit, source=used.called if used else "",
    )  # fmt: skip
    band = _band(known, value_of(true) or Fraction(0))
    error = steps.step(
        "error", f"Error in the gas; {limit_said(band)}", "{s} − {t}", lambda s, t: s - t,
        {"s": inputs.shown, "t": true}, places=2, unit=unit, plus=True, beside=band, source=band.source,
        label="error in the gas",
    )  # fmt: skip
    steps.step(
        "error_percent", "The same in % of the gas", "100 × {e} / {t}", lambda e, t: 100 * e / t,
        {"e": error, "t": true}, places=1, unit="%", plus=True,
    )  # fmt: skip
    if inputs.way == "calibration":
        steps.judge("error", "error in the gas", error, band, standard=value_of(true))
        _zero(steps, inputs, known, value_of(true))
    if inputs.seconds is not None:
        late = band_for(LIMITS, known, "seconds")
        steps.say(f"Time to 90 %; {limit_said(late)}", value=inputs.seconds.text, unit="s", source=late.source)
        steps.judge("seconds", "time to 90 %", inputs.seconds.value, late)
    for name, said, answer in (("horn", "horn and lamp act", inputs.horn), ("fan", "fan or shut-off acts", inputs.fan)):
        if answer is not None:
            steps.judge(name, said, answer, band_for(LIMITS, known, "so"))
    zero = inputs.zero.value if inputs.zero is not None else None
    points = [(Fraction(0), zero)] if zero is not None else []
    if true is not None and inputs.shown is not None:
        points.append((true.value, inputs.shown.value))
    return steps.worked(Model(kind="two-point", points=tuple(points)), next_value={"error": value_of(error)})


def _zero(steps: Steps, inputs: Detector, known: Known, gas: Fraction | None) -> None:
    """Judge zero in the unit the detector shows; in per cent by a share of the gas, so that it waits for one."""
    if inputs.zero is None or (gas is None and _shows(known) != "ppm"):
        return
    band = _band(known, gas or Fraction(0), "zero")
    text, unit = inputs.zero.text.replace("-", "−"), SHOWS[_shows(known)]
    steps.say(f"In zero air; {limit_said(band)}", value=text, unit=unit, source=band.source)
    steps.judge("zero", "in zero air", inputs.zero.value, band, shown=inputs.zero.value, standard=Fraction(0))


def no_zero(inputs: Detector, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a calibration has a zero and a gas; one of them alone is a bump."""
    unread = any(one.field == "zero" for one in inputs.unread)
    if inputs.way != "calibration" or inputs.zero is not None or unread:
        return ()
    sentence = (
        "Shows in zero air: nothing is written, and a calibration needs it. Without zero it is a bump: choose that."
    )
    return (refuse("zero", "no-zero", sentence),)


def other_unit(inputs: Detector, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a bottle in another unit than the detector shows. Ask: a bottle by volume at a detector in % LEL."""
    used, shows = known.standards.get(inputs.gas), _shows(known)
    if used is None:
        return ()
    if used.unit.removesuffix(" LEL") != SHOWS[shows].removesuffix(" LEL"):
        sentence = (
            f"{sentence_case(used.called)} is given in {used.unit}, the detector shows {SHOWS[shows]}. "
            f"Take a bottle in {SHOWS[shows]}, or register this one in that unit."
        )
        return (refuse("gas", "unit", sentence),)
    if shows != "lel" or used.nominal >= LEAST_LEL:
        return ()
    sentence = (
        f"{used.nominal_text} % is little for a detector in % of the lower explosive limit. Is it % by volume? "
        "2.5 % methane by volume is 50 % of its limit."
    )
    return (ask("gas", "by-volume", sentence, stands("lel", "It is % of the limit"), spoils("volume", "By volume")),)


def dirty_zero(inputs: Detector, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a zero in air that holds the gas; a gas at another flow."""
    found: list[Found] = []
    if inputs.clean_air is False:
        sentence = "Zero in air that may hold the gas sets every later reading too low. Use zero gas or clean air."
        found.append(not_valid("clean_air", "clean-air", sentence))
    if inputs.regulator is False:
        found.append(
            not_valid("regulator", "regulator", "Another flow gives another reading. Use the maker's regulator.")
        )
    return tuple(found)


def bump_as_calibration(inputs: Detector, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a bump after which something was adjusted was a calibration."""
    if inputs.way != "bump" or inputs.kind != "as left" or inputs.unchanged:
        return ()
    sentence = "A bump adjusts nothing. If it was adjusted, it is a calibration: choose that, with zero and gas."
    return (ask("way", "bump", sentence, stands("nothing", "Nothing was adjusted")),)


def no_gas(inputs: Detector, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a gas, or a factor, of nought. Refuse: a bump without its time, which it is judged by."""
    found: list[Found] = []
    true = worked.figure("true")
    if true is not None and true <= 0:
        field = "gas" if inputs.other_gas is None or inputs.other_gas.value > 0 else "other_gas"
        sentence = (
            "There is no gas in it for this detector, so nothing was tried but its zero. Take a gas above nought."
        )
        found.append(not_valid(field, "no-gas", sentence))
    if inputs.way == "bump" and inputs.seconds is None and not any(one.field == "seconds" for one in inputs.unread):
        sentence = "Seconds to 90 %: nothing is written, and a bump is judged by whether it warns in time."
        found.append(refuse("seconds", "no-time", sentence))
    return tuple(found)


def other_gas(inputs: Detector, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a gas other than the target needs the maker's factor. Remind: the target is not written."""
    target, used = known.settings.get("target", "").strip().casefold(), known.standards.get(inputs.gas)
    if used is None or (inputs.other_gas is not None and inputs.other_gas.value != 1):
        return ()
    if not target:
        sentence = "The gas it is for is not written for this tag, so nothing says that the bottle is of it."
        return (remind("gas", "no-target", sentence),)
    if re.search(rf"\b{re.escape(target)}\b{OTHER_COMPOUND}", f"{used.label} {used.kind_name}".casefold()):
        return ()
    sentence = f"The detector is for {known.settings['target']}; is the gas of {used.called} the same?"
    return (
        ask(
            "gas", "other-gas", sentence, stands("same", "The same gas"), spoils("other", "Another, without its factor")
        ),
    )


def old_sensor(inputs: Detector, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Remind: a sensor of more than three years; common practice."""
    if inputs.age is None or inputs.age.value <= OLD_DAYS:
        return ()
    return (remind("age", "old", "The sensor is more than three years old; most are exchanged after two or three."),)


def sleeping(inputs: Detector, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a chlorine sensor that saw no gas for months sleeps: half the gas at the first breath."""
    true = worked.figure("true")
    if true is None or inputs.shown is None or Fraction(true) == 0 or inputs.shown.value >= Fraction(true) / 2:
        return ()
    sentence = "Less than half the gas is shown. A sensor without gas for months sleeps. Exercise it and read again."
    return (
        ask(
            "shown", "sleeping", sentence, stands("awake", "Exercised, and it is so"),
            spoils("again", "Exercise it, then read again"),
        ),
    )  # fmt: skip


def budget(inputs: Detector, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of the error in the gas: the bottle's certificate and the last digit of the display."""
    used, shown = known.standards.get(inputs.gas), inputs.shown
    if inputs.way != "calibration" or used is None or shown is None or not used.uncertainty:
        return {}
    factor = inputs.other_gas.value if inputs.other_gas is not None else Fraction(1)
    drawn = budget_of(
        (
            from_certificate(used.uncertainty, used.k, "gas", used.certificate or used.called, sensitivity=-factor),
            from_resolution(Fraction(1, 10**shown.decimals), "display"),
        ),
        unit=SHOWS[_shows(known)],
        name="error in the gas",
    )
    return {} if drawn is None else {"error": drawn}


METHOD: Method[Detector] = Method(
    code="gas-detector",
    name="Gas detector, bump and calibration",
    version="1.1",
    quantity="gas",
    standards=("gas",),
    asks=asks_of(Detector),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "Test gas is gas: outdoors or under a hood, upwind, bottle fixed, valve shut after.",
        "While it is tested nobody is warned: portable detector on, people told, entry stopped.",
        "No entry with a detector whose bump failed or is out of date. Follow the site's entry permit.",
    ),
    work=work,
    catches=(
        *AT_A_SIGNAL, no_zero, no_gas, other_unit, dirty_zero, bump_as_calibration, other_gas, sleeping,
        old_sensor,
        reminder("fan", "fan", "See the fan and the shut-off act, not the lamp alone."),
        reminder("seconds", "time", "Take the time to 90 % as well: a slow sensor warns too late."),
        reminder("age", "age", "Sensors last two or three years; write how old this one is."),
    ),
    read=reader_of(Detector),
    budget=budget,
)  # fmt: skip
