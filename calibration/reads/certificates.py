"""Certificates as they are taken in: what is asked of each, what is wrong with one, what the page shows."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol

from assets.compute.numbers import NotANumber, read_number
from assets.errors import Reason
from assets.models import Asset
from calibration.models import Certificate

INTAKE: Mapping[str, str] = {
    "asks_this_one": "Is it of this instrument: the same maker, type and serial number as on its plate?",
    "asks_whole": "Is it whole: every page there, a number on each, an end, and somebody’s name who answers for it?",
    "asks_days": "Does it say on which day it was calibrated?",
    "asks_method": "Does it say by which method or procedure?",
    "asks_conditions": "Does it say under which conditions, like temperature, where these matter?",
    "asks_traceable": "Does it say how its values are traced back, by an unbroken chain of calibrations?",
    "asks_uncertainty": "Does it state an uncertainty with its coverage factor, in the unit of the value?",
    "asks_both": "Are the results before any adjustment or repair there, and those after it?",
    "asks_range": "Do its points cover the range in which the plant uses the instrument?",
    "asks_good_enough": "Is the instrument, by these results, good enough for what the plant checks with it?",
}
"""What is asked of an incoming certificate: after ISO/IEC 17025:2017, 6.4, 6.5, 7.8.2.1 and 7.8.4.1."""

MUST = ("asks_this_one", "asks_days", "asks_good_enough")
"""Without a yes to these no certificate is accepted: own judgement. The others may be no, and stand so."""


class Read(Protocol):
    """What is looked at in a certificate as typed."""

    @property
    def unit(self) -> str: ...
    @property
    def accreditation(self) -> str: ...
    @property
    def in_scope(self) -> bool: ...
    @property
    def value(self) -> str: ...
    @property
    def uncertainty(self) -> str: ...
    @property
    def coverage(self) -> str: ...
    @property
    def corrections(self) -> Sequence[tuple[str, str]]: ...
    @property
    def asked(self) -> Mapping[str, str]: ...


def intake_faults(read: Read, asset: Asset, *, accepted: bool, because: str) -> list[Reason]:
    """Return what keeps a certificate from being taken in as it is typed."""
    reasons: list[Reason] = []
    if not read.unit.strip():
        reasons.append(Reason("Unit: nothing is written. Write the unit of its values.", "unit"))
    if read.in_scope and not read.accreditation.strip():
        reasons.append(Reason("Accreditation: a scope belongs to one; write its number.", "accreditation"))
    if bool(read.uncertainty.strip()) != bool(read.coverage.strip()):
        sentence = "Coverage factor: an expanded uncertainty needs its k, usually 2. Write both or neither."
        reasons.append(Reason(sentence, "coverage"))
    reasons.extend(_faults_of_numbers(read, asset.site.decimal_mark))
    reasons.extend(_faults_of_answers(read.asked, accepted=accepted))
    if not accepted and not because.strip():
        reasons.append(Reason("Because: nothing is written. Say why the certificate is refused.", "because"))
    return reasons


def _faults_of_answers(asked: Mapping[str, str], *, accepted: bool) -> list[Reason]:
    reasons = []
    for code, question in INTAKE.items():
        answer = asked.get(code, "")
        if answer not in {"yes", "no"}:
            reasons.append(Reason(f"{question} Answer yes or no.", code))
        elif accepted and code in MUST and answer == "no":
            sentence = f"{question} It was answered no, so the certificate cannot be accepted; refuse it, and say why."
            reasons.append(Reason(sentence, code))
    return reasons


def _faults_of_numbers(read: Read, mark: str) -> list[Reason]:
    reasons: list[Reason] = []
    for field, words, text in (
        ("value", "Certified value", read.value),
        ("uncertainty", "Uncertainty", read.uncertainty),
        ("coverage", "Coverage factor", read.coverage),
    ):
        value, fault = _number(text, mark)
        if fault:
            reasons.append(Reason(f"{words}: {fault}", field))
        elif value is not None and field != "value" and value <= 0:
            reasons.append(Reason(f"{words}: “{text}” is not above zero.", field))
    seen: set[Fraction] = set()
    for shown, correction in read.corrections:
        (value, fault), (_, other) = _number(shown, mark), _number(correction, mark)
        if fault or other or value is None or not correction.strip():
            sentence = f"Corrections: row “{shown} {correction}” is not two numbers; write it like 50.0 -0.2."
            reasons.append(Reason(sentence, "corrections"))
        elif value in seen:
            reasons.append(Reason(f"Corrections: {shown} stands twice; each shown value stands once.", "corrections"))
        else:
            seen.add(value)
    return reasons


def _number(text: str, mark: str) -> tuple[Fraction | None, str]:
    if not text.strip():
        return None, ""
    try:
        return read_number(text, decimal_mark=mark), ""
    except NotANumber as wrong:
        return None, str(wrong)


@dataclass(frozen=True, slots=True)
class Asked:
    """A question of the intake with its answer."""

    question: str
    answer: str


def asked_of(certificate: Certificate) -> tuple[Asked, ...]:
    """Return the questions that were asked of a certificate with their answers."""
    kept = json.loads(certificate.asked)
    return tuple(Asked(question, kept[code]) for code, question in INTAKE.items() if code in kept)
