"""An alarm, interlock or trip is tested: how it was brought on, where it acted, what acted, and that it is restored.

Where it was brought on by a current at the wires, its uncertainty is that of the source and of the last digit; brought
on by the process or in software nothing states one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import Record, asks_of, choice, number, reader_of, standard, words, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import EVERY_CHECK, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.figures import plain, sentence_case
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standard_units import drawn, from_standard, last_digit, other_quantity
from calibration.compute.steps import Steps, limit_said, value_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip(Record):
    """One test of one function."""

    how: str = choice(
        "how it was brought on",
        ("process", "By the process itself"),
        ("injected", "By a signal at the sensor's wires"),
        ("software", "By a value written in software"),
        ("button", "By a button on the HMI"),
        must=True,
    )
    set_point: Typed | None = number("set point in force", must=True)
    tripped: Typed | None = number("value when it acted", must=True)
    reset: Typed | None = number("value when it came back", rare=True)
    delay: Typed | None = number("delay", "s", low="0", high="3600", must=True)
    acted: bool | None = yes_or_no("the final element was seen to act", must=True)
    alarmed: bool | None = yes_or_no("the alarm came where it is watched", must=True)
    reached: bool | None = yes_or_no("the automatic call reached a person", rare=True)
    restored: bool | None = yes_or_no("restored: bypass off, set point and auto as before", must=True)
    in_auto: bool | None = yes_or_no("what it stops was in auto, not in hand", must=True)
    shelved: bool | None = yes_or_no("the alarm was shelved during the test", rare=True)
    changed: bool | None = yes_or_no("the set point was changed in this test", rare=True)
    witness: str = words("witnessed by", rare=True)
    source: str = standard("source at the wires", "source", must=False, rare=True)


def _setting(name: str, label: str, *, must: bool = False, units: tuple[str, ...] = ()) -> Ask:
    return Ask(
        name=name, label=label, part="settings", must=must, units=units, low=Fraction(-(10**6)), high=Fraction(10**7)
    )


SETTINGS = (
    _setting("approved", "set point of the approved list", must=True),
    _setting("span", "span of the signal", must=True),
    _setting("longest_delay", "longest delay allowed", units=("s",)),
)

LONGEST = Fraction(10)
"""Seconds until the approved list says how long; own judgement."""


def _longest(known: Known, at: Fraction) -> Fraction:
    written = known.number("longest_delay")
    return LONGEST if written is None else written


LIMITS = (
    Limit(
        name="error",
        what="where it acted",
        unit="%",
        of="span",
        low=Fraction(-1),
        high=Fraction(1),
        source="own judgement: within 1 % of span of the set point",
        tag="own judgement",
    ),
    Limit(
        name="delay",
        what="delay",
        unit="s",
        of="",
        low=None,
        high=_longest,
        source="the approved list; 10 s until it is written, own judgement",
        tag="site setting",
    ),
    Limit(
        name="so",
        what="acts",
        unit="",
        of="",
        low=None,
        high=None,
        source="what a trip is for",
        tag="own judgement",
    ),
)


def work(inputs: Trip, known: Known) -> Worked:
    """Judge where it acted, how soon, and that alarm and final element did."""
    steps = Steps()
    band = band_for(LIMITS, known, "error")
    approved = steps.given(
        "approved",
        "Set point of the approved list",
        known.number("approved"),
        places=3,
        unit="",
        source="approved list",
    )
    error = steps.step(
        "error", f"Where it acted, in % of span off; {limit_said(band)}", "100 × ({t} − {p}) / {w}",
        lambda t, p, w: 100 * (t - p) / w, {"t": inputs.tripped, "p": approved, "w": known.number("span")}, places=2,
        unit="%", plus=True, beside=band, source=band.source, label="where it acted",
    )  # fmt: skip
    steps.judge("error", "where it acted", error, band, of="span", standard=value_of(approved))
    delay = band_for(LIMITS, known, "delay")
    if inputs.delay is not None:
        steps.say(f"Delay; {limit_said(delay)}", value=inputs.delay.text, unit="s", source=delay.source)
        steps.judge("delay", "delay", inputs.delay.value, delay)
    so = band_for(LIMITS, known, "so")
    for name, words_said, answer in (
        ("acted", "the final element acts", inputs.acted),
        ("alarmed", "the alarm comes where it is watched", inputs.alarmed),
        ("reached", "the automatic call reaches a person", inputs.reached),
    ):
        if answer is not None:
            steps.say(f"{sentence_case(words_said)}: {'yes' if answer else 'no'}")
            steps.judge(name, words_said, answer, so)
    return steps.worked(Model(kind="window"), next_value={"error": value_of(error)})


def nothing_approved(inputs: Trip, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: no approved set point or span. Ask: another set point than the approved one."""
    approved, span = known.number("approved"), known.number("span")
    if approved is None or span is None or span <= 0:
        sentence = "The approved set point or the span is not written for this tag. A supervisor writes both."
        return (refuse("set_point", "no-approved", sentence),)
    if inputs.set_point is None or inputs.set_point.value == approved:
        return ()
    sentence = (
        f"The set point in force is “{inputs.set_point.text}”, the approved one {plain(approved)}. Who changed it?"
    )
    return (
        ask(
            "set_point", "other", sentence, stands("permitted", "Changed with approval; the list follows"),
            spoils("unknown", "Nobody knows: put right, then tested again"),
        ),
    )  # fmt: skip


def only_a_button(inputs: Trip, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a button proves the lamp. Ask: a value in software proves the half from there on."""
    if inputs.how == "button":
        sentence = "A button on the HMI proves neither sensor nor trip. Bring it on by the process or at the wires."
        return (not_valid("how", "button", sentence),)
    if inputs.how != "software":
        return ()
    sentence = "A value in software leaves the sensor and its wires untested. When was the whole path last tested?"
    return (
        ask(
            "how", "software", sentence, stands("within", "The whole path within the year"),
            spoils("longer", "Longer ago, or nobody knows"),
        ),
    )  # fmt: skip


def in_hand(inputs: Trip, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: a pump in hand ignores its trip; a shelved alarm can not come; a set point changed to pass."""
    found: list[Found] = []
    if inputs.in_auto is False:
        sentence = "In hand it ignores the trip. Put it in auto, test again, and leave it as it was found."
        found.append(not_valid("in_auto", "hand", sentence))
    if inputs.shelved:
        found.append(not_valid("shelved", "shelved", "A shelved alarm cannot come. Take it off the shelf, test again."))
    if inputs.changed:
        sentence = "The set point was changed in the test: that proves the new number, not the trip. Put it back."
        found.append(not_valid("changed", "changed", sentence))
    return tuple(found)


def no_reset(inputs: Trip, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: it came back at the very value at which it acted: it chatters there, or was not tried."""
    if inputs.reset is None or inputs.tripped is None or inputs.reset.value != inputs.tripped.value:
        return ()
    sentence = f"It came back at “{inputs.reset.text}”, where it acted. Was that seen, or is it the same number again?"
    return (
        ask(
            "reset", "same-reset", sentence, stands("seen", "Seen: it has no difference"),
            spoils("not", "Not seen: the reset is tried again"),
        ),
    )  # fmt: skip


def not_restored(inputs: Trip, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a test is over when everything is as before."""
    if inputs.restored is not False:
        return ()
    sentence = (
        "Restored: no. Take the bypass off, set point and auto as before, then sign. A bypass left on trips nothing."
    )
    return (refuse("restored", "restored", sentence),)


def budget(inputs: Trip, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of where it acted in % of span, for a current at the wires: the source's and the digit."""
    span, used = known.number("span"), known.standards.get(inputs.source)
    if inputs.how != "injected" or not span or inputs.tripped is None or "error" not in {j.name for j in worked.judged}:
        return {}
    parts = (
        from_standard(used, unit="mA", sensitivity=Fraction(100, 16)),
        last_digit(inputs.tripped, "", sensitivity=100 / span),
    )
    return drawn(parts, name="error", what="where it acted", unit="%")


METHOD: Method[Trip] = Method(
    code="trip-test",
    name="Alarm, interlock or trip, tested",
    version="1.1",
    quantity="trip",
    standards=("source",),
    asks=asks_of(Trip),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=(
        "The test stops machines and starts others: tell everybody, stand clear, and watch the process by hand.",
        "A bypass is written, watched and taken off. Follow the site's procedure and the code that asks for the trip.",
    ),
    work=work,
    budget=budget,
    budget_since="1.1",
    catches=(
        *EVERY_CHECK, nothing_approved, only_a_button, in_hand, no_reset, not_restored,
        other_quantity("source", "mA"),
        reminder("reset", "reset", "Write where it came back too: a trip without reset chatters or stays."),
        reminder("reached", "call", "Once a year the automatic call reaches a person who answers."),
    ),
    read=reader_of(Trip),
    stages=("as found",),
    skipped_by=frozenset({"drift", "pooling"}),
)  # fmt: skip
