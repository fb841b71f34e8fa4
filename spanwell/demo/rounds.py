"""Every instrument beside the pH probes: by what each is checked, how often, and each time it was."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from calibration.actions.drafts import begin_draft, keep_draft
from calibration.actions.requirements import LimitTyped, TermsTyped, set_requirement
from calibration.actions.sets import sign_set
from calibration.compute.figures import plain
from calibration.compute.methods import METHODS
from calibration.models import Check, Draft, Requirement
from maintenance.actions.routines import Interval, Work, change_term, register_routine
from spanwell.demo import cast, instruments, reading
from spanwell.demo.cast import Part
from spanwell.demo.plant import GROWN, Plant
from spanwell.demo.reading import ANSWERS, ELECTRODE, PERCENT_A_DEGREE, Read
from spanwell.demo.shelf import DILUTIONS, give_block_its_value

MINUTES = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """One instrument with its method: `days` back of each check, `every` days of its routine, what is typed.

    `older` are the days of the checks before those; until the last half-year it was checked every `before` days.
    """

    tag: str
    method: str
    title: str
    time: str
    every: int
    days: tuple[int, ...]
    read: Read
    kind: str = "verify"
    minutes: int = 30
    early: int = 7
    late: int = 7
    older: tuple[int, ...] = ()
    before: int | None = None
    held: bool = False
    settings: Mapping[str, str] = field(default_factory=dict)
    rule: str = "plain"
    because: str = ""

    @property
    def turns(self) -> list[tuple[int, int]]:
        """Each check as its turn, negative before `days`, and its day."""
        return list(enumerate((*self.older, *self.days), -len(self.older)))

    @property
    def asked(self) -> bool:
        """Whether the check asks if the signal is on hold."""
        return any(ask.name == "hold" for ask in METHODS[self.method].asks)


def _each(step: int, first: int, last: int) -> tuple[int, ...]:
    return tuple(range(first, last - 1, -step))


TURBIDITY = Round(
    tag="AIT-350",
    method="turbidity",
    title="Verify turbidity in the block, twice a year in formazin",
    time="13:05",
    every=14,
    days=_each(14, 182, 14),
    older=_each(28, 546, 200),
    before=28,
    read=reading.turbidity,
    held=True,
    early=3,
    late=3,
    settings={"flow_low": "200", "flow_high": "750", "working_value": "0.07", "upper": "10"},
)
REDOX = Round(
    tag="AIT-520",
    method="orp",
    title="Read the redox probe in the solution",
    time="10:40",
    every=14,
    days=_each(14, 180, 12),
    older=_each(28, 544, 200),
    before=28,
    read=reading.redox,
    early=3,
    late=3,
    settings={"reference": ELECTRODE},
)
CONDUCTIVITY = Round(
    tag="CIT-360",
    method="conductivity",
    title="Read the conductivity cell in the solution",
    time="11:10",
    every=28,
    days=(179, 151, 123, 95, 68, 40, 30, 2),
    older=_each(56, 543, 200),
    before=56,
    read=reading.conductivity,
    settings={"compensation": "linear", "coefficient": PERCENT_A_DEGREE, "reference": "25"},
)
CHLORINE = Round(
    tag="AIT-510",
    method="chlorine",
    title="Compare chlorine with two grabs",
    time="09:15",
    every=28,
    days=_each(28, 178, 10),
    older=_each(28, 542, 200),
    read=reading.chlorine,
    early=5,
    late=5,
    settings={"species": "free", "low_range": "2"},
)
FLOW = Round(
    tag="FIT-330",
    method="flow-comparison",
    title="Compare flow with the portable meter",
    time="14:10",
    every=30,
    days=_each(30, 170, 20),
    older=_each(90, 530, 200),
    before=90,
    read=reading.flow,
    held=True,
    minutes=60,
)
ROUNDS = (
    TURBIDITY,
    REDOX,
    CONDUCTIVITY,
    CHLORINE,
    FLOW,
    Round(
        tag="GD-51",
        method="gas-detector",
        title="Bump the gas detector",
        time="08:20",
        every=30,
        days=_each(29, 177, 3),
        older=_each(60, 537, 200),
        before=60,
        read=reading.gas,
        settings={"target": "chlorine", "longest": "60", "unit": "ppm"},
        rule="guarded",
        because="certificate of the bottle and the last digit of the display",
    ),
    Round(
        tag="P-51",
        method="feed-pump",
        title="Draw the chlorine pump down",
        time="11:40",
        every=30,
        days=_each(29, 176, 2),
        older=_each(60, 536, 200),
        before=60,
        read=reading.drawdown,
        settings={"fades": "yes"},
    ),
    Round(
        tag="LIT-601",
        method="level",
        title="Let a tape down at two levels",
        time="15:20",
        every=90,
        days=(173, 92, 11),
        older=_each(90, 533, 200),
        read=reading.level,
        held=True,
        minutes=90,
        early=14,
        late=14,
        settings={"span": "6", "mark": "6.5"},
    ),
    Round(
        tag="LIT-601",
        method="current-loop",
        title="Inject 4 to 20 mA, read every face",
        time="13:30",
        every=365,
        days=(160,),
        older=(521,),
        read=reading.loop,
        held=True,
        minutes=60,
        early=30,
        late=30,
        settings={"lower": "0", "upper": "6", "plc_lower": "0", "plc_upper": "6", "hmi_lower": "0", "hmi_upper": "6"},
    ),
    Round(
        tag="PIT-72",
        method="pressure",
        title="Calibrate pressure, up and down",
        time="09:50",
        every=150,
        days=(172, 24),
        older=(475, 324),
        read=reading.pressure,
        kind="calibrate",
        held=True,
        minutes=60,
        early=14,
        late=14,
        settings={"span": "1000"},
    ),
    Round(
        tag="TIT-120",
        method="temperature",
        title="Compare with the reference thermometer",
        time="08:45",
        every=90,
        days=(165, 77),
        older=_each(90, 525, 200),
        read=reading.temperature,
        early=14,
        late=14,
        settings={"element": "pt100"},
    ),
    Round(
        tag="AIT-355",
        method="uv-transmittance",
        title="Compare transmittance with the bench",
        time="15:10",
        every=60,
        days=(169, 109, 49),
        older=_each(60, 529, 200),
        read=reading.transmittance,
    ),
    Round(
        tag="FIT-110",
        method="flow-volume",
        title="Fill the measured tank",
        time="09:30",
        every=365,
        days=(100,),
        older=(461,),
        read=reading.tank_volume,
        minutes=90,
        early=30,
        late=30,
        settings={"level_step": "0.002"},
    ),
    Round(
        tag="M-8",
        method="bench-meter",
        title="Blank and colour cell, each day",
        time="06:50",
        every=1,
        days=_each(1, 7, 1),
        read=reading.colour,
        minutes=5,
        early=0,
        late=0,
        settings={"percent": "5", "blank_limit": "0.02"},
    ),
    *(Round(**row) for row in instruments.rows()),
)
FAILED = CHLORINE.days[4]
"""Days back on which the chlorine analyzer failed as found and was adjusted."""


def go_round(plant: Plant) -> None:
    """Write each requirement on the day it is first checked by, a shorter interval where one came, every check."""
    at, add = plant.days.at, plant.script.add
    for one in ROUNDS:
        first = (*one.older, *one.days)[0]
        add(at(first, "06:30"), _require, plant, one)
        if one.before is not None:
            add(at(GROWN - 1, "10:50"), _shorten, plant, one)
        for turn, days_back in one.turns:
            failed = one is CHLORINE and days_back == FAILED
            primary = one is TURBIDITY and days_back in DILUTIONS
            scene = _fail_and_adjust if failed else _calibrate_and_assign if primary else _quiet
            add(at(days_back, one.time), scene, plant, one, turn)


def _interval(one: Round, every: int) -> Interval:
    return Interval(mode="floating", every=every, unit="day", early=one.early, late=one.late, source="common practice")


def _require(plant: Plant, one: Round) -> None:
    ruth, position = plant.person(cast.RUTH), plant.tag(one.tag)
    routine = register_routine(
        site=plant.site,
        target=position,
        work=Work(kind=one.kind, title=one.title, minutes=one.minutes),
        interval=_interval(one, one.before or one.every),
        by=ruth,
    )
    set_requirement(position=position, method=one.method, terms=_terms(plant, one), plan=routine, by=ruth)


def _shorten(plant: Plant, one: Round) -> None:
    plan = requirement(plant, one).plan
    assert plan is not None
    why = "after the first year, by the yearly look at what rests on each instrument"
    change_term(plan=plan, interval=_interval(one, one.every), from_day=plant.day, why=why, by=plant.person(cast.RUTH))


def _terms(plant: Plant, one: Round) -> TermsTyped:
    """The limits of the method as they stand there; one that is worked out at each check is left open."""
    limits = {
        limit.name: LimitTyped(
            low=_edge(limit.low), high=_edge(limit.high), unit=limit.unit, source=limit.source, tag=limit.tag
        )
        for limit in METHODS[one.method].limits
    }
    return TermsTyped(
        limits=limits,
        from_day=plant.day,
        source="the defaults of the method",
        rule=one.rule,
        uncertainty_source=one.because,
        settings=one.settings,
    )


def _edge(edge: object) -> str:
    return plain(edge).replace("\u2212", "-") if isinstance(edge, Fraction) else ""


def requirement(plant: Plant, one: Round) -> Requirement:
    """What the instrument of a round is checked by."""
    rows = Requirement.objects.select_related("site", "position__site", "plan")
    return rows.get(site=plant.site, position__tag=one.tag, method=one.method)


def _hold(plant: Plant, one: Round, *, last: bool) -> dict[str, str]:
    if not one.asked:
        return {}
    if not one.held:
        return {"hold": "off"}
    fields = {"hold": "on", "hold_on_at": plant.time_written(-5)}
    return fields | ({"hold_off_at": plant.time_written(MINUTES)} if last else {})


def _sign(plant: Plant, one: Round, draft: Draft, fields: Mapping[str, str], part: Part) -> Check:
    who = plant.person(part)
    answers = ANSWERS.get(one.method, {})
    kept = keep_draft(draft=draft, fields=fields, answers=answers, version=draft.version, settles=False, by=who)
    plant.clock.wait(MINUTES)
    return sign_set(draft=kept, version=kept.version, proof=plant.proof(part), by=who)


def _quiet(plant: Plant, one: Round, turn: int) -> Check:
    """Check an instrument that is good as found and left as it is."""
    return _as_found(plant, one, turn, plant.on_shift(plant.days_back), then="nothing")


def _as_found(plant: Plant, one: Round, turn: int, part: Part, *, then: str) -> Check:
    draft = begin_draft(requirement=requirement(plant, one), by=plant.person(part))
    more = {"next": then} if "as left" in METHODS[one.method].stages else {}
    fields = _hold(plant, one, last=then == "nothing") | one.read(plant, turn) | more
    return _sign(plant, one, draft, fields, part)


def _calibrate_and_assign(plant: Plant, one: Round, turn: int) -> None:
    """Read the turbidity meter in the primary standard; right after that the block is given its value on it."""
    check = _as_found(plant, one, turn, cast.INES, then="nothing")
    plant.clock.wait(6)
    assert check.asset is not None
    give_block_its_value(plant, check.asset, check, "0.49" if turn <= 0 else "0.50")


def _fail_and_adjust(plant: Plant, one: Round, turn: int) -> None:
    """As found fails; the analyzer is adjusted and read again beside two new grabs."""
    check = _as_found(plant, one, turn, cast.TOMAS, then="more")
    plant.clock.wait(25)
    who = plant.person(cast.TOMAS)
    draft = begin_draft(requirement=requirement(plant, one), by=who, stage="as left", check=check)
    fields = {**draft.typed["fields"], **reading.chlorine_as_left(plant), "done": "adjusted"}
    _sign(plant, one, draft, fields, cast.TOMAS)
