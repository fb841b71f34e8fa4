"""The day of the last primary calibration of a turbidity meter, as its next check knows it: what counts, what not."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

import pytest

from assets.models import Asset
from calibration.reads.known import known_for
from tests.calibration.compute.methods.conftest import DAY
from tests.calibration.compute.methods.test_catches import BY_METHOD
from tests.calibration.places import Before, Ground, Place, place_of
from tests.conftest import Clock

pytestmark = pytest.mark.django_db

BLOCK = {"way": "block", "standard": "B", "shown": "0.50"}


def last_primary(place: Place, asset: Asset | None, day: dt.date = DAY) -> str:
    term = place.requirement.terms.get()
    settings: Mapping[str, Any] = known_for(place.requirement, term, day=day, last={}, asset=asset).settings
    return str(settings.get("last_primary", ""))


def test_only_an_adjustment_of_this_meter_that_was_read_again_in_a_primary_standard_counts(clock: Clock) -> None:
    clock.set(2026, 11, 24, 20)  # 13:00 at the site
    ground = Ground(BY_METHOD["turbidity"])
    place = place_of(ground, {"unit_key": "asset-9"}, earlier={})
    asset = ground.assets["asset-9"]

    def calibrate(changes: Mapping[str, str], done: str) -> str:
        Before(ground, place.requirement, place.facts, {**ground.case.good, **changes}).calibrate(done)
        return last_primary(place, asset)

    assert last_primary(place, asset) == ""
    assert calibrate(BLOCK, "adjusted") == ""  # in a block
    assert calibrate({}, "cleaned") == ""  # read and not adjusted
    assert calibrate({"rising": "yes"}, "adjusted") == ""  # bubbles: not valid
    assert calibrate({}, "adjusted") == DAY.isoformat()
    assert last_primary(place, asset, DAY - dt.timedelta(days=1)) == ""  # a check of the day before, written late
    assert last_primary(place, ground.asset("another")) == ""
    assert last_primary(place, None) == ""
