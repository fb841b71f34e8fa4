"""Particle counter: its flow against what it counts with, and its zero. Counts themselves have no field standard.

What it counts in a time it divides by the flow it was told: a flow 5 % high makes its counts 5 % high.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, number, reader_of, rows, standard, words, yes_or_no
from calibration.compute.budget import Budget
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, remind, reminder, spoils, stands
from calibration.compute.figures import plain
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.standard_units import correction, drawn, from_standard, last_digit, other_quantity
from calibration.compute.steps import Number, Steps, limit_said, value_of
from calibration.compute.working import Entry

YEAR = 366
"""Days the maker's service holds; from memory: yearly."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Channel:
    """What is counted from one size upwards."""

    size: Typed | None = number("counts from this size, in µm", low="0.1", high="1000", rare=True)
    counts: Typed | None = number("shows", "1/mL", low="0", high="1000000", rare=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter(SignalRecord):
    """One set at a particle counter."""

    column: str = standard("cylinder", "column", must=False, rare=True)
    volume: Typed | None = number("volume caught", "mL", low="0", high="5000", must=True)
    seconds: Typed | None = number("in so many seconds", "s", low="1", high="3600", must=True)
    zero: Typed | None = number(
        "counts in particle-free water", "1/mL", low="0", high="100000", must=True,
        advice="Water through a filter finer than its smallest size. Without it only the flow would be proved.",
    )  # fmt: skip
    counts: Typed | None = number("counts of the water", "1/mL", low="0", high="1000000", rare=True)
    laser: bool | None = yes_or_no("laser and alignment report good", rare=True)
    bubbles: bool | None = yes_or_no("bubbles seen in the line", rare=True)
    serviced: str = words("maker's last service on", rare=True, advice="A day, like 2026-03-31.")
    channel: tuple[Channel, ...] = rows(Channel, 0, 6)


SETTINGS = (
    Ask(
        name="rated_flow", label="flow the counter counts with", part="settings", units=("mL/min",), must=True,
        low=Fraction(1), high=Fraction(1000),
    ),
    Ask(
        name="coincidence", label="most counts it can tell apart", part="settings", units=("1/mL",), low=Fraction(1),
        high=Fraction(1000000),
    ),
)  # fmt: skip

LIMITS = (
    Limit(
        name="flow",
        what="flow",
        unit="%",
        of="rated flow",
        low=Fraction(-5),
        high=Fraction(5),
        source="from memory: 5 % of the rated flow",
        tag="from memory",
    ),
    Limit(
        name="zero",
        what="counts in particle-free water",
        unit="1/mL",
        of="",
        low=None,
        high=Fraction(10),
        source="from memory: 10 counts a millilitre",
        tag="from memory",
    ),
)


def _caught(steps: Steps, inputs: Counter, known: Known) -> Entry | None:
    """Return the flow caught in mL/min, the volume corrected by the certificate of the cylinder where it has one."""
    volume: Number = inputs.volume
    added = (
        correction(known.standards.get(inputs.column), inputs.volume.value, "mL")
        if inputs.volume is not None
        else Fraction(0)
    )
    if added:
        volume = steps.step(
            "volume", "Volume caught, corrected by the certificate", "{v} + {c}", lambda v, c: v + c,
            {"v": inputs.volume, "c": added}, places=1, unit="mL",
        )  # fmt: skip
    return steps.step(
        "measured", "Flow caught", "60 × {v} / {t}", lambda v, t: 60 * v / t, {"v": volume, "t": inputs.seconds},
        places=1, unit="mL/min",
    )  # fmt: skip


def work(inputs: Counter, known: Known) -> Worked:
    """Work out the flow through the counter as % off the flow it counts with: counts are wrong by as much."""
    steps = Steps()
    rated = steps.given(
        "rated", "Flow the counter counts with", known.number("rated_flow"), places=1, unit="mL/min",
        source="written for this tag",
    )  # fmt: skip
    flow = _caught(steps, inputs, known)
    band = band_for(LIMITS, known, "flow")
    error = steps.step(
        "flow", f"Flow off, in % of the rated flow; {limit_said(band)}", "100 × ({q} − {r}) / {r}",
        lambda q, r: 100 * (q - r) / r, {"q": flow, "r": rated}, places=1, unit="%", plus=True, beside=band,
        source=band.source, label="flow",
    )  # fmt: skip
    steps.judge("flow", "flow", error, band, of="rated flow", standard=value_of(rated))
    if inputs.zero is not None:
        zero = band_for(LIMITS, known, "zero")
        text = f"Counts in particle-free water; {limit_said(zero)}"
        steps.say(text, value=inputs.zero.text, unit="1/mL", source=zero.source)
        steps.judge("zero", "counts in particle-free water", inputs.zero.value, zero)
    _at_the_flow_caught(steps, inputs, rated, flow)
    points = ((rated.value, flow.value),) if rated is not None and flow is not None else ()
    return steps.worked(Model(kind="gain", points=points), next_value={"flow": value_of(error)})


def _at_the_flow_caught(steps: Steps, inputs: Counter, rated: Entry | None, flow: Entry | None) -> None:
    """Write what the counts shown would be, had the counter been told the flow that was caught."""
    counted = [("counts", "Counts of the water at the flow caught", inputs.counts)]
    counted += [
        (f"channel_{count}", f"Channel {count}, from {one.size.text} µm, at the flow caught", one.counts)
        for count, one in enumerate(inputs.channel, 1)
        if one.size is not None
    ]
    for name, text, read in counted:
        steps.step(
            name, text, "{c} × {r} / {q}", lambda c, r, q: c * r / q, {"c": read, "r": rated, "q": flow}, places=1,
            unit="1/mL", source="the counter divides by the flow it was told",
        )  # fmt: skip


def no_rated_flow(inputs: Counter, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: without the flow it counts with nothing can be compared."""
    if known.number("rated_flow") is not None:
        return ()
    return (refuse("volume", "no-rated-flow", "The flow this counter counts with is not written for this tag."),)


def false_counts(inputs: Counter, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Not valid: bubbles count as particles. Ask: a report that is not good."""
    found: list[Found] = []
    if inputs.bubbles:
        found.append(not_valid("bubbles", "bubbles", "Bubbles count as particles. Free the line of air, read again."))
    if inputs.laser is False:
        sentence = "Laser or alignment is not reported good. Counts mean little until it is."
        found.append(ask("laser", "laser", sentence, spoils("stop", "Then this check says nothing")))
    return tuple(found)


def _counted(inputs: Counter) -> list[tuple[str, Typed]]:
    fields = [("counts", inputs.counts)]
    fields += [(f"channel{count}_counts", one.counts) for count, one in enumerate(inputs.channel, 1)]
    return [(field, read) for field, read in fields if read is not None]


def too_many(inputs: Counter, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: above its limit a counter takes two particles for one."""
    most = known.number("coincidence")
    over = [(field, read) for field, read in _counted(inputs) if most is not None and read.value > most]
    if most is None or not over:
        return ()
    field, read = over[0]
    sentence = f"“{read.text}” a millilitre is over {plain(most)}, where two particles count as one. Dilute?"
    return (ask(field, "coincidence", sentence, stands("known", "Known: it shows at least that many")),)


def below_zero_water(inputs: Counter, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: particle-free water has more particles than the water itself."""
    if inputs.zero is None or inputs.counts is None or inputs.counts.value >= inputs.zero.value:
        return ()
    sentence = (
        f"The water has “{inputs.counts.text}” a millilitre and particle-free water “{inputs.zero.text}”. Were they "
        "mixed up?"
    )
    return (
        ask(
            "zero", "zero-over", sentence, stands("as written", "As written: its zero is that high"),
            spoils("unclean", "The particle-free water was not free of them"),
        ),
    )  # fmt: skip


def channels(inputs: Counter, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: half a channel, one size twice. Ask: more of the large ones than of the large and small together."""
    found: list[Found] = []
    whole: list[tuple[Typed, Typed, int]] = []
    for count, one in enumerate(inputs.channel, 1):
        if one.size is not None and one.counts is not None:
            whole.append((one.size, one.counts, count))
        elif one.size is not None or one.counts is not None:
            field, lacks = ("counts", "its counts") if one.counts is None else ("size", "the size it counts from")
            sentence = f"Channel {count} is half written: {lacks} is missing. Write it, or empty the row."
            found.append(refuse(f"channel{count}_{field}", f"half-channel-{count}", sentence))
    whole.sort(key=lambda one: one[0].value)
    for (small, more, _), (large, fewer, count) in zip(whole, whole[1:], strict=False):
        if small.value == large.value:
            sentence = f"Two channels count from {large.text} µm. Each size stands once."
            found.append(refuse(f"channel{count}_size", f"same-size-{count}", sentence))
        elif fewer.value > more.value:
            sentence = (
                f"“{fewer.text}” from {large.text} µm are more than “{more.text}” from {small.text} µm, which has them "
                "in it. Are they counts from this size upwards?"
            )
            between = stands("between", "No: of this size up to the next only")
            spoilt = spoils("wrong", "Upwards: then the counter sorts them wrongly")
            found.append(ask(f"channel{count}_counts", f"rising-{count}", sentence, between, spoilt))
    return tuple(found)


def other_scale(inputs: Counter, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: a flow sixty times too large is minutes under seconds, a thousandth of it litres under millilitres."""
    flow, rated, band = worked.figure("measured"), known.number("rated_flow"), band_for(LIMITS, known, "flow")
    if flow is None or not rated:
        return ()
    for field, key, times, slip in (
        ("seconds", "minutes", Fraction(1, 60), "minutes written as seconds"),
        ("volume", "litres", Fraction(1000), "litres written as millilitres"),
    ):
        off = 100 * (Fraction(flow) * times - rated) / rated
        if (band.low is None or off >= band.low) and (band.high is None or off <= band.high):
            sentence = f"The flow caught comes to {plain(Fraction(flow), most=1)} mL/min. Are these {slip}?"
            return (ask(field, key, sentence, stands("as written", "As written: the flow is that far off")),)
    return ()


def service(inputs: Counter, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Refuse: a day nobody can read, or one to come. Remind: the maker's service is more than a year ago."""
    if not inputs.serviced:
        return ()
    try:
        last = date.fromisoformat(inputs.serviced.strip())
    except ValueError:
        sentence = f"“{inputs.serviced}” is no day; write it like 2026-03-31."
        return (refuse("serviced", "unread-serviced", sentence),)
    if last > known.day:
        sentence = f"{last.isoformat()} is after this check. Write the day of the last service, not of the next."
        return (refuse("serviced", "service-to-come", sentence),)
    if (known.day - last).days <= YEAR:
        return ()
    sentence = f"The maker's service was on {last.isoformat()}, more than a year ago. Its sizes are not proved since."
    return (remind("serviced", "service-over", sentence),)


def budget(inputs: Counter, known: Known, worked: Worked) -> Mapping[str, Budget]:
    """Return the uncertainty of the flow: the cylinder's certificate, last digits of volume and time.

    None without a cylinder that states its own. The flow the counter was told is a number and has none, and the zero
    has no standard beside it.
    """
    rated, flow = known.number("rated_flow"), worked.figure("measured")
    if not rated or flow is None or inputs.volume is None or inputs.seconds is None:
        return {}
    per_volume = 6000 / (inputs.seconds.value * rated)
    per_second = -100 * Fraction(flow) / (inputs.seconds.value * rated)
    parts = (
        from_standard(known.standards.get(inputs.column), unit="mL", sensitivity=per_volume),
        last_digit(inputs.volume, "mL", sensitivity=per_volume, name="last digit of the volume"),
        last_digit(inputs.seconds, "s", sensitivity=per_second, name="last digit of the time"),
    )
    return drawn(parts, name="flow", what="flow", unit="%")


METHOD: Method[Counter] = Method(
    code="particle-counter",
    name="Particle counter, flow and zero",
    version="1.2",
    quantity="particles",
    standards=("column",),
    asks=asks_of(Counter),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=("The laser inside stays inside: covers are opened by the maker's service only.",),
    work=work,
    budget=budget,
    budget_since="1.1",
    catches=(
        *AT_A_SIGNAL, no_rated_flow, false_counts, too_many, below_zero_water, channels, other_scale, service,
        other_quantity("column", "mL"),
        reminder("serviced", "service", "The maker's yearly service is the only check of its sizes."),
    ),
    read=reader_of(Counter),
    legends={"channel": "Channel"},
    headline="flow",
)  # fmt: skip
