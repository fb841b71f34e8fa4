"""Intervals offered when a routine is registered, each with where it comes from. A site changes them as it likes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Preset:
    """One offered interval: `source` names a standard, or says *common practice* or *from memory*."""

    key: str
    words: str
    mode: str
    every: int
    unit: str
    source: str
    early: int = 7
    late: int = 0
    by_rule: bool = False


PRESETS: tuple[Preset, ...] = (
    Preset(
        key="ph-30",
        words="pH probe: calibrate every 30 days",
        mode="floating",
        every=30,
        unit="day",
        late=7,
        source="30 TAC 290.46(s), from memory: check the official text",
    ),
    Preset(
        key="ph-week",
        words="pH probe: check in a buffer every week",
        mode="floating",
        every=7,
        unit="day",
        early=1,
        late=1,
        source="30 TAC 290.46(s), from memory: check the official text",
    ),
    Preset(
        key="chlorine-5",
        words="Chlorine analyzer: compare with a grab every 5 days, demanded by a rule",
        mode="floating",
        every=5,
        unit="day",
        early=1,
        by_rule=True,
        source="40 CFR 141.74(a)(2); check what your regulator approved",
    ),
    Preset(
        key="turbidity-quarter",
        words="Turbidimeter: calibrate every 3 months",
        mode="floating",
        every=3,
        unit="month",
        late=7,
        source="Health Canada, Guideline Technical Document: Turbidity",
    ),
    Preset(
        key="turbidity-week",
        words="Turbidimeter: verify every week",
        mode="floating",
        every=7,
        unit="day",
        early=1,
        late=1,
        source="Health Canada, Guideline Technical Document: Turbidity",
    ),
    Preset(
        key="flow-year",
        words="Flow meter: verify every 12 months",
        mode="floating",
        every=12,
        unit="month",
        late=30,
        source="30 TAC 290.46(s), from memory: check the official text",
    ),
    Preset(
        key="pump-month",
        words="Pump: grease, seal, vibration, bearing heat every month",
        mode="floating",
        every=1,
        unit="month",
        late=7,
        source="common practice of small plants",
    ),
    Preset(
        key="idle-week",
        words="Standby pump: run it every week",
        mode="floating",
        every=7,
        unit="day",
        early=2,
        late=1,
        source="UFC 3-230-02, section 11.3.6.1",
    ),
    Preset(
        key="feeder-week",
        words="Chemical feeder: clean every week",
        mode="floating",
        every=7,
        unit="day",
        early=2,
        late=2,
        source="UFC 3-230-02, table 46",
    ),
    Preset(
        key="eyewash-week",
        words="Eyewash and shower: flush every week",
        mode="floating",
        every=7,
        unit="day",
        early=2,
        source="ANSI/ISEA Z358.1, from memory: check the official text",
    ),
    Preset(
        key="procedure-year",
        words="Energy procedure: inspect at least every year, demanded by a rule",
        mode="floating",
        every=12,
        unit="month",
        early=30,
        by_rule=True,
        source="29 CFR 1910.147(c)(6)(i)",
    ),
)

BY_KEY = {preset.key: preset for preset in PRESETS}
