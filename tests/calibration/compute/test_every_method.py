"""What holds for every method: its description is whole, and an empty or a half-written form never hurts."""

from __future__ import annotations

from datetime import date

import pytest

from assets.compute.units import BY_CODE
from calibration.compute.method import AnyMethod, Known
from calibration.compute.methods import ALL, METHODS
from calibration.compute.standards import KINDS
from calibration.compute.typed import fields_for, read_fields
from calibration.compute.verdict import judge

EACH = pytest.mark.parametrize("method", ALL, ids=lambda method: method.code)
TAGS = {"standard", "common practice", "from memory", "own judgement", "site setting"}


def test_codes_are_of_one_method_each() -> None:
    assert len(METHODS) == len(ALL)
    assert len({method.name for method in ALL}) == len(ALL)


@EACH
def test_every_limit_names_its_source_and_what_kind_of_source_that_is(method: AnyMethod) -> None:
    assert method.limits
    for limit in method.limits:
        assert limit.source.strip()
        assert limit.tag in TAGS
        assert not limit.unit or limit.unit in BY_CODE or limit.unit == "kPa/min"


@EACH
def test_every_field_has_words_a_part_units_and_kinds_that_are_known(method: AnyMethod) -> None:
    parts = {part for stage in method.stages for part in method.parts[stage]}
    for ask in method.asks:
        assert ask.label and ask.part in parts, ask.name
        assert all(unit in BY_CODE for unit in ask.units), (ask.name, ask.units)
        assert all(BY_CODE[unit].quantity == BY_CODE[ask.units[0]].quantity for unit in ask.units)
        assert all(kind in KINDS for kind in ask.of)
        assert (ask.kind == "standard") == bool(ask.of)
        assert not ask.each or ask.each in method.legends
        assert ask.name.isidentifier()
        assert bool(ask.choices) == (ask.kind == "choice")
        assert ask.kind == "number" or (ask.low is None and ask.high is None)
        assert ask.low is None or ask.high is None or ask.low < ask.high
    for ask in method.settings:
        assert ask.label and ask.part == "settings"
        assert all(unit in BY_CODE for unit in ask.units)


@EACH
def test_no_two_fields_of_a_form_have_one_name(method: AnyMethod) -> None:
    for stage in method.stages:
        names = [one.name for one in fields_for(method, stage)]
        assert len(names) == len(set(names))


@EACH
def test_what_is_typed_is_asked_for_before_what_is_rare(method: AnyMethod) -> None:
    """A routine check needs at most a dozen fields besides the standards: what is more is folded away."""
    must = [ask for ask in method.asks if ask.must and not ask.each]
    assert not any(ask.rare for ask in must)
    assert len(must) <= 12


@EACH
def test_it_warns_of_what_can_hurt_and_never_shouts(method: AnyMethod) -> None:
    assert method.cautions
    said = [
        *method.cautions,
        *(limit.source for limit in method.limits),
        *(ask.label + ask.advice for ask in method.asks),
    ]
    assert not any("!" in text for text in said)


@EACH
def test_an_empty_form_is_worked_out_without_a_fault_and_cannot_be_signed(method: AnyMethod) -> None:
    known = Known(day=date(2026, 11, 24), uses=("paces P-41",))
    for stage in method.stages:
        entered = read_fields(fields_for(method, stage), {})
        outcome = judge(method, method.read(entered, stage, {}), known)
        assert not outcome.can_be_signed
        assert outcome.verdict is None
        assert all("!" not in one.sentence and one.sentence.rstrip()[-1] in ".?" for one in outcome.found)


@EACH
def test_every_single_field_alone_and_every_choice_is_worked_out_without_a_fault(method: AnyMethod) -> None:
    known = Known(day=date(2026, 11, 24))
    samples = {"number": "1", "yes or no": "no", "text": "so", "standard": "none", "day": "2026-11-24"}
    for stage in method.stages:
        fields = fields_for(method, stage)
        for one in fields:
            values = [code for code, _ in one.ask.choices] or [samples.get(one.ask.kind, "x")]
            for value in values:
                entered = read_fields(fields, {one.name: value})
                judge(method, method.read(entered, stage, {}), known)
        everything = {one.name: (one.ask.choices[0][0] if one.ask.choices else samples[one.ask.kind]) for one in fields}
        judge(method, method.read(read_fields(fields, everything), stage, {}), known)
