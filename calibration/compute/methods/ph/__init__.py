"""The pH check: a probe and its display in two or three buffers.

Sources: buffer values NIST/IUPAC as reprinted; theoretical slope from the 2019 SI; guard bands ILAC-G8:09/2019;
default limits and their sources stand in `asks.LIMITS`. Everything is exact; see `work`.
"""

from __future__ import annotations

from collections.abc import Mapping

from calibration.compute.method import Answer, Entered, Found, Known, Method, Recalled, Worked
from calibration.compute.methods.ph import doubts, response, standards
from calibration.compute.methods.ph.advice import advice_on
from calibration.compute.methods.ph.asks import AFTER_RETURN, ASKS, CAUTIONS, LIMITS, WORDS
from calibration.compute.methods.ph.budget import error_budget
from calibration.compute.methods.ph.electrode import (
    Electrode,
    ElectrodeLimits,
    electrode,
    electrode_within,
    limits_of,
    nernst_slope,
)
from calibration.compute.methods.ph.inputs import (
    SET_KINDS,
    Point,
    ReadingSet,
    SetKind,
    as_left_unchanged,
    reading_set,
)
from calibration.compute.methods.ph.setup import set_up
from calibration.compute.methods.ph.working import work
from calibration.compute.typed import Field, fields_of, read_fields
from calibration.compute.verdict import Outcome, judge

__all__ = [
    "METHOD",
    "SET_KINDS",
    "Electrode",
    "ElectrodeLimits",
    "Point",
    "ReadingSet",
    "SetKind",
    "advice_on",
    "as_left_unchanged",
    "describe",
    "electrode",
    "electrode_within",
    "fields_for",
    "judge_set",
    "limits_of",
    "nernst_slope",
    "read",
    "reading_set",
    "work",
]

CATCHES = (*standards.CATCHES, *response.CATCHES, *doubts.CATCHES)


def caught(inputs: ReadingSet, known: Known, worked: Worked) -> tuple[Found, ...]:
    """Return everything that is wrong or doubtful with a reading set, in the order of the catches."""
    setup = set_up(inputs, known)
    return tuple(found for catch in CATCHES for found in catch(setup, worked))


def _read(entered: Entered, kind: str, answers: Mapping[str, Answer]) -> ReadingSet:
    stage = next(one for one in SET_KINDS if one == kind)
    return reading_set(entered, kind=stage, answers=answers)


METHOD: Method[ReadingSet] = Method(
    code="ph",
    name="pH, in buffers",
    version="1.1",
    quantity="pH",
    standards=("pH buffer",),
    asks=ASKS,
    limits=LIMITS,
    cautions=CAUTIONS,
    words=WORDS,
    work=work,
    budget=error_budget,
    budget_since="1.1",
    catches=(caught,),
    read=_read,
    legends={"point": "Point", "third": "Third buffer"},
    stages=SET_KINDS,
    carried=("process_shown", "process_temperature"),
    by_point=True,
    recalls=(
        Recalled(name="slope_percent", figure="percent_slope"),
        Recalled(name="process_ph", figure="process_ph", of_this_check=True),
    ),
    after_return=AFTER_RETURN,
)


def describe() -> Method[ReadingSet]:
    """Return the description of this method, from which a form, a record and an export are built."""
    return METHOD


def fields_for(kind: SetKind, *, points: int = 2) -> tuple[Field, ...]:
    """Return the fields of one reading set in the order they are asked, for so many points."""
    parts = ("before", "reading set", "as left") if kind == "as left" else ("before", "reading set")
    return fields_of(METHOD, *parts, points=points)


def read(
    typed: Mapping[str, str],
    *,
    kind: SetKind,
    answers: Mapping[str, Answer] | None = None,
    decimal_mark: str = ".",
) -> ReadingSet:
    """Read the fields of one set as typed (name to text). What cannot be read goes along with its sentence."""
    return reading_set(
        read_fields(fields_for(kind, points=3), typed, decimal_mark=decimal_mark), kind=kind, answers=answers
    )


def judge_set(inputs: ReadingSet, known: Known) -> Outcome:
    """Work out one reading set, find what is wrong with it and judge it."""
    return judge(METHOD, inputs, known)
