"""The values that can be worked out for a condition: strainer, membrane, pump head, twins; what each asks.

The formulas stand in `assets.compute.readings.derived`; what a person should know is said with each.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from fractions import Fraction

from assets.compute.readings import derived
from assets.compute.readings.derived import Curve, Derived, Filtering
from assets.compute.readings.running import Shared
from maintenance.compute.worked import Asked, Fault, Given, Kind, Numbers, without

POINTS = (1, 2, 3, 4)


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
    words="Rise of differential pressure at equal flow",
    unit="kPa",
    about="The pressure lost is brought to one flow by the square of the flow, and the clean strainer’s is taken off. "
    "Below 0.7 of that flow it says too little and no value is given.",
    asks=(
        Asked(name="pressure", label="differential pressure", unit="kPa"),
        Asked(name="flow", label="flow through it", unit="m³/h"),
    ),
    givens=(
        Given(
            name="reference", label="Flow it is brought to", short="reference flow", unit="m³/h", hint="A usual flow."
        ),
        Given(name="clean", label="Pressure lost when clean, at that flow", short="clean", unit="kPa"),
        Given(
            name="taps",
            label="What the height between the taps adds",
            short="taps",
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
    words="Loss of membrane flow at equal pressure and temperature",
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
        Given(name="clean flow", label="Filtrate when clean", short="clean", unit="m³/h"),
        Given(name="clean pressure", label="Pressure across it when clean", short="at", unit="kPa"),
        Given(
            name="clean temperature",
            label="Water temperature when clean",
            short="and",
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
    return without(found, head.why.rstrip(".")) if head.value is None else found


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
        flow, head = f"Baseline point {n}: flow", f"Baseline point {n}: head"
        yield Given(name=f"flow {n}", label=flow, short="baseline at", unit="m³/h", needed=needed, low=Fraction(0))
        yield Given(name=f"head {n}", label=head, short="head", unit="m", needed=needed, low=Fraction(0))


HEAD = Kind(
    code="head",
    title="A pump that loses head",
    words="Pump head against its baseline at equal flow",
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
            short="suction",
            unit="kPa",
            needed=False,
            hint="Below zero where the pump sucks.",
            signed=True,
        ),
        Given(
            name="gauges apart",
            label="Discharge gauge above the suction gauge",
            short="gauges apart",
            unit="m",
            needed=False,
        ),
        Given(
            name="velocity head",
            label="What the velocity adds",
            short="velocity",
            unit="m",
            needed=False,
            hint="Nothing where both pipes are equally wide.",
        ),
        Given(name="baseline speed", label="Speed of the baseline", short="at speed", unit="1/min", needed=False),
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
    words="Share of the running of the first of two machines",
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
            short="over at least",
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
