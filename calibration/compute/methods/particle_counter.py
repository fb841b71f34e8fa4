"""Particle counter: its flow against what it counts with, and its zero. Counts themselves have no field standard."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from calibration.compute.asked import SignalRecord, asks_of, number, reader_of, standard, yes_or_no
from calibration.compute.doubts import AT_A_SIGNAL, ask, not_valid, refuse, reminder, spoils, stands
from calibration.compute.figures import plain
from calibration.compute.method import Ask, Found, Known, Limit, Method, Model, Typed, Worked, band_for
from calibration.compute.steps import Steps, limit_said, value_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Counter(SignalRecord):
    """One set at a particle counter."""

    column: str = standard("cylinder", "column", must=False, rare=True)
    volume: Typed | None = number("volume caught", "mL", low="0", high="5000", must=True)
    seconds: Typed | None = number("in so many seconds", "s", low="1", high="3600", must=True)
    zero: Typed | None = number("counts in particle-free water", "1/mL", low="0", high="100000")
    counts: Typed | None = number("counts of the water", "1/mL", low="0", high="1000000", rare=True)
    laser: bool | None = yes_or_no("laser and alignment report good", rare=True)
    bubbles: bool | None = yes_or_no("bubbles seen in the line", rare=True)


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


def work(inputs: Counter, known: Known) -> Worked:
    """Work out the flow through the counter as % off the flow it counts with: counts are wrong by as much."""
    steps = Steps()
    rated = steps.given(
        "rated", "Flow the counter counts with", known.number("rated_flow"), places=1, unit="mL/min",
        source="written for this tag",
    )  # fmt: skip
    flow = steps.step(
        "measured", "Flow caught", "60 × {v} / {t}", lambda v, t: 60 * v / t,
        {"v": inputs.volume, "t": inputs.seconds}, places=1, unit="mL/min",
    )  # fmt: skip
    band = band_for(LIMITS, known, "flow")
    error = steps.step(
        "flow", f"Flow off, in % of the rated flow; {limit_said(band)}", "100 × ({q} − {r}) / {r}",
        lambda q, r: 100 * (q - r) / r, {"q": flow, "r": rated}, places=1, unit="%", plus=True, beside=band,
        source=band.source, label="flow",
    )  # fmt: skip
    steps.judge("flow", "flow", error, band, of="rated flow", standard=value_of(rated))
    if inputs.zero is not None:
        zero = band_for(LIMITS, known, "zero")
        steps.say("Counts in particle-free water", value=inputs.zero.text, unit="1/mL", source=zero.source)
        steps.judge("zero", "counts in particle-free water", inputs.zero.value, zero)
    points = ((rated.value, flow.value),) if rated is not None and flow is not None else ()
    return steps.worked(Model(kind="gain", points=points), next_value={"flow": value_of(error)})


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


def too_many(inputs: Counter, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Ask: above its limit a counter takes two particles for one."""
    most = known.number("coincidence")
    if inputs.counts is None or most is None or inputs.counts.value <= most:
        return ()
    sentence = f"“{inputs.counts.text}” a millilitre is over {plain(most)}, where two particles count as one. Dilute?"
    return (ask("counts", "coincidence", sentence, stands("known", "Known: it shows at least that many")),)


METHOD: Method[Counter] = Method(
    code="particle-counter",
    name="Particle counter, flow and zero",
    version="1.0",
    quantity="particles",
    standards=("column",),
    asks=asks_of(Counter),
    limits=LIMITS,
    settings=SETTINGS,
    cautions=("The laser inside stays inside: covers are opened by the maker's service only.",),
    work=work,
    catches=(
        *AT_A_SIGNAL, no_rated_flow, false_counts, too_many,
        reminder("laser", "service", "The maker's yearly service is the only check of its sizes."),
    ),
    read=reader_of(Counter),
    headline="flow",
)  # fmt: skip
