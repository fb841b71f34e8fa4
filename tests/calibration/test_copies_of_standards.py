"""What a signed set keeps of a standard is all that its method read of it, so that it can be worked out again."""

from __future__ import annotations

import dataclasses
import datetime as dt
from fractions import Fraction

from calibration.compute.standards import Assigned, Standard
from calibration.compute.temperature_tables import table_from_rows
from calibration.reads.stored import lot_text, read_lot

DAY = dt.date(2026, 11, 25)
FULL = Standard(
    id="asset-7",
    label="B-1120",
    nominal=Fraction("1.005"),
    nominal_text="1.005",
    table=table_from_rows(code="made-up", name="made up", rows=[("10", "1"), ("25", "1.1")], source="invented"),
    kind="gas",
    kind_name="Chlorine in nitrogen",
    unit="ppm",
    expires=DAY,
    opened=DAY,
    opened_life=90,
    quarantined="cloudy",
    discarded=DAY,
    uncertainty=Fraction("0.02"),
    k=Fraction(2),
    is_lot=False,
    unfit="it is away",
    certificate="88, a laboratory",
    assigned=(Assigned(unit_key="asset-3", value=Fraction(20), text="20.0", on=DAY),),
    corrections=((Fraction(100), Fraction("-0.4")),),
)


def test_every_fact_of_a_standard_comes_back_from_its_copy() -> None:
    back = read_lot(lot_text(FULL))
    for field in dataclasses.fields(Standard):
        if field.default is not dataclasses.MISSING:
            assert getattr(FULL, field.name) != field.default, f"{field.name} is not tried here"
        if field.name == "table":
            assert back.table is not None
            assert FULL.table is not None
            assert (back.table.rows, back.table.source) == (FULL.table.rows, FULL.table.source)
        else:
            assert getattr(back, field.name) == getattr(FULL, field.name)


def test_the_copy_of_a_bottle_of_buffer_holds_nothing_of_other_kinds() -> None:
    buffer = Standard(id="3", label="2608-A", nominal=Fraction(7), nominal_text="7.00", kind_name="pH 7 buffer")
    kept = lot_text(buffer)
    assert "kind" not in kept
    assert read_lot(kept) == dataclasses.replace(buffer, kind_name="")
