"""Signed checks as a spreadsheet: the rows of the CSV, text that looks like a formula kept as text."""

from __future__ import annotations

import pytest
from django.urls import reverse

from assets.compute.workbook import rows_in
from calibration.actions.recall import withdraw_standard
from calibration.reads.checks import CheckFilter
from calibration.reads.export import xlsx_of
from tests.assets.signed_in import browser_of
from tests.make import proof_of
from tests.make_checks import COLD, Bench

pytestmark = pytest.mark.django_db


def test_a_withdrawn_reliance_is_told_in_the_file_too(clock) -> None:
    bench = Bench()
    check = bench.check()
    withdraw_standard(
        site=bench.site,
        standard=bench.lots["7"],
        from_day=clock().astimezone(bench.site.zone).date(),
        because="reads 0.05 low",
        seen=[check.number],
        proof=proof_of(bench.supervisor),
        by=bench.supervisor,
    )
    heading, first, _ = rows_in(xlsx_of(bench.site, CheckFilter()))
    found = dict(zip(heading, first, strict=False))
    assert found["reliance withdrawn"] == "lot 2608-A: reads 0.05 low"


def test_the_spreadsheet_holds_one_row_a_set_as_typed(clock) -> None:
    bench = Bench()
    bench.sign(bench.draft(COLD | {"hold_note": "=1+1"}))
    answer = browser_of(bench.operator).get(reverse("calibration:checks-xlsx"), {"method": "ph"})
    assert answer["Content-Type"].endswith("spreadsheetml.sheet")
    heading, first, second = rows_in(answer.content)
    found = dict(zip(heading, first, strict=False))
    assert (found["set"], found["verdict"]) == ("as found", "pass")
    assert found["hold note"] == "=1+1"
    assert "as left" in second
    none = browser_of(bench.operator).get(reverse("calibration:checks-xlsx"), {"method": "orp"})
    assert len(rows_in(none.content)) == 1
