"""Values that a condition may look at although nobody reads them: worked out from readings taken together.

Each kind says what it asks: readings with the unit it reckons in, and numbers that a person gives once, a baseline,
with where they come from. The formulas stand in `assets.compute.readings.derived`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.readings import derived
from assets.compute.readings.derived import Curve, Derived, Filtering
from assets.compute.readings.facts import about, days_between, plain
from assets.compute.readings.running import Shared
from assets.compute.readings.together import Together
from assets.compute.rounding import rounded, shown
from assets.compute.transcendental import as_decimal

Numbers = Mapping[str, Fraction]
Fault = tuple[str, str]
POINTS = (1, 2, 3, 4)
MOST_PLACES = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One reading that goes in: its name in sentences, the unit it is reckoned in; `counter`: its running total.

    `needed` False: the value can be worked out without it.
    """

    name: str
    label: str
    unit: str
    counter: bool = False
    needed: bool = True
    hint: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """One number that a person gives once; the unit it is reckoned in; what may be meant, both bounds included.

    signed: it may lie below zero, so that its sign is asked for.
    """

    name: str
    label: str
    unit: str
    needed: bool = True
    hint: str = ""
    low: Fraction | None = None
    high: Fraction | None = None
    signed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """One value as worked out from readings taken together; `since` where it counts from earlier ones."""

    together: Together
    value: Derived
    since: Together | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What is worked out: its words, the unit of its value, what goes in, and what a person should know about it.

    `faults` gives for readings chosen and numbers given that do not go together the name of each and a sentence.
    """

    code: str
    title: str
    words: str
    unit: str
    about: str
    asks: tuple[Asked, ...]
    givens: tuple[Given, ...]
    work: Callable[[Numbers, Numbers], Derived]
    faults: Callable[[Collection[str], Numbers], list[Fault]]
    over_days: str = ""

    @property
    def lead(self) -> str:
        """The reading for which the others are sought."""
        return self.asks[0].name


def values_of(kind: Kind, sets: Sequence[Together], given: Numbers) -> Iterator[Worked]:
    """Yield the value of each set of readings, in their order; `given`: the numbers in the units of the kind."""
    if kind.over_days:
        yield from _over(kind, sets, given)
        return
    for one in sets:
        yield Worked(together=one, value=_named(kind, one, kind.work(_numbers(one), given)))


def _numbers(one: Together) -> dict[str, Fraction]:
    return {name: reading.value for name, reading in one.found.items()}


def _named(kind: Kind, one: Together, value: Derived) -> Derived:
    """The value, or no value for want of a reading that is needed, with the sentence of what has no partner."""
    gone = [f"{ask.label}: {one.missing[ask.name]}" for ask in kind.asks if ask.name in one.missing]
    return _without(value, "; ".join(gone)) if gone else value


def _without(value: Derived, why: str) -> Derived:
    return Derived(
        what=value.what, value=None, unit=value.unit, inputs=value.inputs, formula=value.formula, source=value.source,
        why=f"{why[:1].upper()}{why[1:]}.",
    )  # fmt: skip


def _over(kind: Kind, sets: Sequence[Together], given: Numbers) -> Iterator[Worked]:
    """What was counted since the newest earlier set that is at least so many days of the calendar older."""
    days = given[kind.over_days]
    whole = [one for one in sets if not one.missing]
    first = 0
    for one in sets:
        while first + 1 < len(whole) and days_between(whole[first + 1].at, one.at) >= days:
            first += 1
        since = whole[first] if whole and days_between(whole[first].at, one.at) >= days else None
        found = {} if since is None or one.missing else _counted(since, one)
        value = _named(kind, one, kind.work(found, given))
        if since is None and not one.missing:
            value = _without(value, f"the two were not read together {plain(days)} days before")
        yield Worked(together=one, value=value, since=since)


def _counted(since: Together, one: Together) -> dict[str, Fraction]:
    return {name: reading.value - since.found[name].value for name, reading in one.found.items()}


# ------------------------------------------------------------------------------------------------------------- strainer


def _strainer(read: Numbers, given: Numbers) -> Derived:
    return derived.strainer_rise(
        read.get("pressure"),
        read.get("flow"),
        reference=given["reference"],
        clean=given["clean"],
        taps_head=given.get("taps", Fraction(0)),
    )


def _above_zero(*names: str) -> Callable[[Collection[str], Numbers], list[Fault]]:
    def faults(_chosen: Collection[str], given: Numbers) -> list[Fault]:
        return [(name, "write a number above 0") for name in names if name in given and given[name] <= 0]

    return faults


STRAINER = Kind(
    code="strainer",
    title="A strainer or filter that fouls",
    words="Differential pressure above clean, at one flow",
    unit="kPa",
    about="The pressure lost is brought to one flow by the square of the flow, and the clean strainer’s is taken off. "
    "Below 0.7 of that flow it says too little and no value is given.",
    asks=(
        Asked(name="pressure", label="differential pressure", unit="kPa"),
        Asked(name="flow", label="flow through it", unit="m³/h"),
    ),
    givens=(
        Given(name="reference", label="Flow it is brought to", unit="m³/h", hint="A usual flow."),
        Given(name="clean", label="Pressure lost when clean, at that flow", unit="kPa"),
        Given(
            name="taps",
            label="What the height between the taps adds",
            unit="kPa",
            needed=False,
            hint="As shown with no flow; 1.8 m of water is 17.6 kPa.",
        ),
    ),
    work=_strainer,
    faults=_above_zero("reference"),
)


# ------------------------------------------------------------------------------------------------------------- membrane


def _membrane(read: Numbers, given: Numbers) -> Derived:
    return derived.membrane_decline(
        Filtering(flow=read.get("flow"), pressure=read.get("pressure"), temperature=read.get("temperature")),
        Filtering(flow=given["clean flow"], pressure=given["clean pressure"], temperature=given["clean temperature"]),
    )


MEMBRANE = Kind(
    code="membrane",
    title="A membrane that declines",
    words="Membrane below its clean flow, at equal pressure and temperature",
    unit="%",
    about="The flow for each kPa across the membrane, brought to 20 °C by the viscosity of water, against that of the "
    "clean membrane. For micro- and ultrafiltration; where osmotic pressure counts (reverse osmosis) it does not hold. "
    "It says nothing of whether the membrane is whole: that is the integrity test.",
    asks=(
        Asked(name="flow", label="filtrate", unit="m³/h"),
        Asked(name="pressure", label="pressure across it", unit="kPa"),
        Asked(name="temperature", label="water temperature", unit="°C"),
    ),
    givens=(
        Given(name="clean flow", label="Filtrate when clean", unit="m³/h"),
        Given(name="clean pressure", label="Pressure across it when clean", unit="kPa"),
        Given(
            name="clean temperature",
            label="Water temperature when clean",
            unit="°C",
            low=Fraction(0),
            high=Fraction(40),
        ),
    ),
    work=_membrane,
    faults=_above_zero("clean flow", "clean pressure"),
)


# ----------------------------------------------------------------------------------------------------------------- pump


def _points(given: Numbers) -> list[tuple[Fraction, Fraction]]:
    pairs = [(given.get(f"flow {n}"), given.get(f"head {n}")) for n in POINTS]
    return sorted((flow, head) for flow, head in pairs if flow is not None and head is not None)


def _head(read: Numbers, given: Numbers) -> Derived:
    head = derived.pump_head(
        read.get("discharge"),
        read.get("suction", given.get("suction")),
        gauges_apart=given.get("gauges apart", Fraction(0)),
        velocity_head=given.get("velocity head", Fraction(0)),
    )
    curve = Curve(points=tuple(_points(given)), speed=given.get("baseline speed"))
    speed = read.get("speed") if curve.speed is not None else None
    found = derived.percent_of_curve(head.value, read.get("flow"), curve, speed=speed)
    return _without(found, head.why.rstrip(".")) if head.value is None else found


def _head_faults(chosen: Collection[str], given: Numbers) -> list[Fault]:
    faults = _point_faults(given)
    if "suction" not in chosen and "suction" not in given:
        faults.append(("suction", "choose where it is read, or write the pressure below; 0 where nothing presses"))
    if "suction" in chosen and "suction" in given:
        faults.append(("suction", "choose where it is read or write a pressure, and not both"))
    if ("speed" in chosen) is not ("baseline speed" in given):
        faults.append(("baseline speed", "the speed is read and that of the baseline is given, or neither"))
    return faults + _above_zero("baseline speed")(chosen, given)


def _point_faults(given: Numbers) -> list[Fault]:
    faults = []
    for n in POINTS:
        for one, other in ((f"flow {n}", f"head {n}"), (f"head {n}", f"flow {n}")):
            if one in given and other not in given:
                faults.append((other, "a point of the baseline has a flow and a head; write both or neither"))
    flows = [flow for flow, _ in _points(given)]
    if not faults and len(flows) < 2:
        faults.append(("flow 2", "the baseline has at least two points, each at another flow"))
    if len(set(flows)) < len(flows):
        faults.append(("flow 2", "two points of the baseline have the same flow; each is at another one"))
    return faults


def _baseline() -> Iterator[Given]:
    for n in POINTS:
        needed = n <= 2
        yield Given(name=f"flow {n}", label=f"Baseline point {n}: flow", unit="m³/h", needed=needed, low=Fraction(0))
        yield Given(name=f"head {n}", label=f"Baseline point {n}: head", unit="m", needed=needed, low=Fraction(0))


HEAD = Kind(
    code="head",
    title="A pump that loses head",
    words="Head of the pump in per cent of its baseline, at equal flow",
    unit="%",
    about="The head from the gauges on both sides, against the straight line between the two points of the baseline on "
    "either side of the flow; outside its points nothing is guessed. Where the speed is changed it is read too, and "
    "the baseline is moved by the affinity laws.",
    asks=(
        Asked(name="discharge", label="discharge pressure", unit="kPa"),
        Asked(name="flow", label="flow", unit="m³/h"),
        Asked(
            name="suction",
            label="suction pressure",
            unit="kPa",
            needed=False,
            hint="Where nothing is read on the suction side, leave it and give the pressure below.",
        ),
        Asked(
            name="speed",
            label="speed",
            unit="1/min",
            needed=False,
            hint="Only for a pump whose speed is changed.",
        ),
    ),
    givens=(
        *_baseline(),
        Given(
            name="suction",
            label="Suction pressure, where none is read",
            unit="kPa",
            needed=False,
            hint="Below zero where the pump sucks.",
            signed=True,
        ),
        Given(
            name="gauges apart",
            label="Discharge gauge above the suction gauge",
            unit="m",
            needed=False,
        ),
        Given(
            name="velocity head",
            label="What the velocity adds",
            unit="m",
            needed=False,
            hint="Nothing where both pipes are equally wide.",
        ),
        Given(name="baseline speed", label="Speed of the baseline", unit="1/min", needed=False),
    ),
    work=_head,
    faults=_head_faults,
)


# ---------------------------------------------------------------------------------------------------------------- twins


def _twins(read: Numbers, given: Numbers) -> Derived:
    one, other = read.get("first"), read.get("second")
    if one is None or other is None:
        return derived.twin_share(None)
    both = one + other
    return derived.twin_share(Shared(one_hours=one, other_hours=other, share=one / both if both else None))


TWINS = Kind(
    code="twins",
    title="Two machines that share the running",
    words="Share of the running that the first of two machines had",
    unit="%",
    about="The hours that each ran between two times at which both counters were read, at least so many days apart. A "
    "counter that was exchanged is counted on; hours that nobody read at the exchange are left out.",
    asks=(
        Asked(name="first", label="hours of the first", unit="h", counter=True),
        Asked(name="second", label="hours of the second", unit="h", counter=True),
    ),
    givens=(
        Given(
            name="over",
            label="Counted over at least",
            unit="d",
            hint="Like 30.",
            low=Fraction(1),
            high=Fraction(366),
        ),
    ),
    work=_twins,
    faults=_above_zero("over"),
    over_days="over",
)

KINDS: tuple[Kind, ...] = (STRAINER, MEMBRANE, HEAD, TWINS)
BY_CODE = {kind.code: kind for kind in KINDS}


def shown_beside(value: Fraction, outside: Callable[[Fraction], bool], digits: int = 3) -> str:
    """Write a value with three digits that count, with more where fewer would lie on the other side of its limit."""
    size = as_decimal(abs(value)).adjusted() if value else 0
    for places in range(max(0, digits - 1 - size), MOST_PLACES):
        if outside(rounded(value, places)) is outside(value):
            return about(value, places + 1 + size) if places else shown(value, 0)
    return plain(value)


def moment_said(at: dt.datetime) -> str:
    """Write a moment of the site: 25 November 2026 06:48."""
    return f"{at.day} {at:%B %Y %H:%M}"


def times_said(moments: Sequence[dt.datetime]) -> str:
    """Write when readings were taken: one moment, or the first and the last of them."""
    first, last = min(moments), max(moments)
    if first == last:
        return moment_said(first)
    return (
        f"{moment_said(first)} to {last:%H:%M}"
        if first.date() == last.date()
        else (f"{moment_said(first)} to {moment_said(last)}")
    )
