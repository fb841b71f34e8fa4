"""Routines offered when one is registered, each with where it comes from. A site changes them as it likes."""

from __future__ import annotations

import re
from dataclasses import dataclass

from maintenance.compute.season import Season

ENDS = r" (?:at least )?every | after | when | once "
PRACTICE = "common practice, no source"
MEMORY = "from memory"


@dataclass(frozen=True, slots=True, kw_only=True)
class Preset:
    """One offered interval: `source` names a standard, or says *common practice* or *from memory*.

    kind: of the work; by use: after `use_every` of `reads` in `reads_unit`; on a condition: `low`, `high` in
    `reads_unit`, of `reads` or of what `computes` works out; season: in which it is owed. All numbers as typed.
    """

    key: str
    words: str
    source: str
    kind: str
    mode: str = "floating"
    every: int = 1
    unit: str = "day"
    early: int = 7
    late: int = 0
    by_rule: bool = False
    reads: str = ""
    reads_unit: str = ""
    use_every: str = ""
    use_early: str = ""
    use_late: str = ""
    low: str = ""
    high: str = ""
    answer_days: int | None = None
    computes: str = ""
    season: Season | None = None

    @property
    def work(self) -> str:
        """The kind of work, as a word."""
        return self.kind.capitalize()

    @property
    def title(self) -> str:
        """What is done: the words up to how often."""
        return re.split(ENDS, self.words, maxsplit=1)[0]


@dataclass(frozen=True, slots=True)
class Group:
    """Offered routines of one way to count."""

    name: str
    says: str
    presets: tuple[Preset, ...]


TAC = f"30 TAC 290.46(s), {MEMORY}: check the official text"
HEALTH_CANADA = "Health Canada, Guideline Technical Document: Turbidity"

BY_DAYS: tuple[Preset, ...] = (
    Preset(
        key="ph-30",
        words="pH probe: calibrate every 30 days",
        kind="calibrate",
        every=30,
        late=7,
        source=TAC,
    ),
    Preset(
        key="ph-week",
        words="pH probe: check in a buffer every week",
        kind="verify",
        every=7,
        early=1,
        late=1,
        source=TAC,
    ),
    Preset(
        key="chlorine-5",
        words="Chlorine analyzer: compare with a grab every 5 days, demanded by a rule",
        kind="verify",
        every=5,
        early=1,
        by_rule=True,
        source="40 CFR 141.74(a)(2); check what your regulator approved",
    ),
    Preset(
        key="turbidity-quarter",
        words="Turbidimeter: calibrate every 3 months",
        kind="calibrate",
        every=3,
        unit="month",
        late=7,
        source=HEALTH_CANADA,
    ),
    Preset(
        key="turbidity-week",
        words="Turbidimeter: verify every week",
        kind="verify",
        every=7,
        early=1,
        late=1,
        source=HEALTH_CANADA,
    ),
    Preset(
        key="flow-year",
        words="Flow meter: verify every 12 months",
        kind="verify",
        every=12,
        unit="month",
        late=30,
        source=TAC,
    ),
    Preset(
        key="pump-month",
        words="Pump: grease, seal, vibration, bearing heat every month",
        kind="upkeep",
        unit="month",
        late=7,
        source="common practice of small plants",
    ),
    Preset(
        key="bearing-quarter",
        words="Pump: bearing lubricant every 3 months",
        kind="upkeep",
        every=3,
        unit="month",
        late=7,
        source="UFC 3-230-02, table 17",
    ),
    Preset(
        key="idle-week",
        words="Standby pump: run it every week",
        kind="upkeep",
        every=7,
        early=2,
        late=1,
        source="UFC 3-230-02, section 11.3.6.1",
    ),
    Preset(
        key="feeder-week",
        words="Chemical feeder: clean every week",
        kind="upkeep",
        every=7,
        early=2,
        late=2,
        source="UFC 3-230-02, table 46",
    ),
    Preset(
        key="eyewash-week",
        words="Eyewash and shower: flush every week",
        kind="inspect",
        every=7,
        early=2,
        source=f"ANSI/ISEA Z358.1, {MEMORY}: check the official text",
    ),
    Preset(
        key="procedure-year",
        words="Energy procedure: inspect at least every year, demanded by a rule",
        kind="inspect",
        every=12,
        unit="month",
        early=30,
        by_rule=True,
        source="29 CFR 1910.147(c)(6)(i)",
    ),
)

MAKER = "the maker’s number comes first"

BY_USE: tuple[Preset, ...] = (
    Preset(
        key="feed-valves",
        words="Metering pump: exchange its valves after 5,000 h",
        kind="upkeep",
        mode="usage",
        reads="Run hours",
        reads_unit="h",
        use_every="5000",
        use_early="500",
        use_late="250",
        source=f"{PRACTICE}; {MAKER}",
    ),
    Preset(
        key="feed-diaphragm",
        words="Metering pump: exchange its diaphragm after 10,000 h or 12 months",
        kind="upkeep",
        mode="first of",
        every=12,
        unit="month",
        early=30,
        late=30,
        reads="Run hours",
        reads_unit="h",
        use_every="10000",
        use_early="1000",
        use_late="500",
        source=f"{PRACTICE}; {MAKER}",
    ),
    Preset(
        key="contactor-starts",
        words="Motor starter: look at its contacts after 20,000 starts",
        kind="inspect",
        mode="usage",
        reads="Starts",
        reads_unit="starts",
        use_every="20000",
        use_early="2000",
        use_late="1000",
        source=f"{PRACTICE}; {MAKER}",
    ),
    Preset(
        key="cartridge-volume",
        words="Cartridge filter: look at the cartridges after 2,000 m³",
        kind="inspect",
        mode="usage",
        reads="Volume",
        reads_unit="m³",
        use_every="2000",
        use_early="200",
        use_late="100",
        source=f"{PRACTICE}; put in what your water and {MAKER.removesuffix(' comes first')} tell",
    ),
)

ON_CONDITION: tuple[Preset, ...] = (
    Preset(
        key="cartridge-pressure",
        words="Cartridge filter: exchange the cartridges when it takes more than 10 psi",
        kind="upkeep",
        mode="condition",
        reads="Pressure difference",
        reads_unit="psi",
        high="10",
        answer_days=2,
        source=f"trade practice (10 to 15 psi), {MEMORY}",
    ),
    Preset(
        key="caustic-cold",
        words="Caustic soda 50 %: look at heating and lines when its room is below 18 °C",
        kind="inspect",
        mode="condition",
        reads="Temperature",
        reads_unit="°C",
        low="18",
        answer_days=0,
        source="it thickens below 18 °C and crystallises below 12 to 14 °C (producers’ pages agreeing)",
    ),
)

WORKED_OUT: tuple[Preset, ...] = (
    Preset(
        key="strainer-5psi",
        words="Strainer: clean it when it takes 5 psi more than clean, at one flow",
        kind="upkeep",
        mode="condition",
        computes="strainer",
        reads_unit="psi",
        high="5",
        answer_days=2,
        source=f"trade practice, {MEMORY}",
    ),
    Preset(
        key="membrane-10",
        words="Membrane: clean it when it gives 10 % less than clean, at equal pressure and temperature",
        kind="upkeep",
        mode="condition",
        computes="membrane",
        reads_unit="%",
        high="10",
        answer_days=7,
        source=f"{PRACTICE} (normalised flow down by 10 %); {MAKER}",
    ),
    Preset(
        key="head-90",
        words="Pump: look at impeller and wear rings when its head is below 90 % of its baseline",
        kind="inspect",
        mode="condition",
        computes="head",
        reads_unit="%",
        low="90",
        answer_days=14,
        source=f"{PRACTICE}",
    ),
    Preset(
        key="twins-share",
        words="Duty and standby: change them over when one has run more than 60 % of the hours",
        kind="upkeep",
        mode="condition",
        computes="twins",
        reads_unit="%",
        low="40",
        high="60",
        answer_days=7,
        source=f"{PRACTICE}",
    ),
)

SUMMER = Season(first=(5, 1), last=(9, 30))
WINTER = Season(first=(10, 1), last=(4, 30))

IN_SEASON: tuple[Preset, ...] = (
    Preset(
        key="intake-summer",
        words="Intake screen: look for weed and algae every week",
        kind="inspect",
        every=7,
        early=1,
        late=2,
        season=SUMMER,
        source=f"{PRACTICE}; days of the northern half",
    ),
    Preset(
        key="hypochlorite-summer",
        words="Hypochlorite: measure its strength every 2 weeks",
        kind="verify",
        every=14,
        early=3,
        late=3,
        season=SUMMER,
        source="it decays the faster the warmer it is (Journal AWWA 85(9), 1993); the interval is common practice",
    ),
    Preset(
        key="tracing-winter",
        words="Heat tracing of chemical lines: see that it is on and warm every week",
        kind="inspect",
        every=7,
        early=2,
        late=1,
        season=WINTER,
        source=f"{PRACTICE}; caustic soda 50 % crystallises below 12 to 14 °C (producers’ pages)",
    ),
    Preset(
        key="frost-autumn",
        words="Frost: look at drains, heaters and lagging once a year, before winter",
        kind="inspect",
        mode="period",
        every=1,
        unit="year",
        season=Season(first=(9, 1), last=(10, 31)),
        source=f"{PRACTICE}; days of the northern half",
    ),
)

PRESETS: tuple[Preset, ...] = (*BY_DAYS, *BY_USE, *ON_CONDITION, *IN_SEASON)
"""Those that one choice says whole; what is worked out needs its readings chosen too."""

GROUPS: tuple[Group, ...] = (
    Group("By days", "Counted from the last time it was done.", BY_DAYS),
    Group("By use", "Hours, starts or volume since it was done, as the counter is read.", BY_USE),
    Group("When a reading is outside", "Owed from the day a value outside its limits is seen.", ON_CONDITION),
    Group(
        "When a value that is worked out is outside",
        "From readings taken together, against a baseline that you give.",
        WORKED_OUT,
    ),
    Group(
        "In a season",
        "Owed only between two days of each year; before use on the first of them, nothing in between.",
        IN_SEASON,
    ),
)

BY_KEY = {preset.key: preset for preset in (*PRESETS, *WORKED_OUT)}
