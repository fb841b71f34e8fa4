"""From nothing to available, through every act, each leaving one event of its own verb."""

from __future__ import annotations

import pytest

from assets.models import Reading
from tests.make_locks import make_pump

pytestmark = pytest.mark.django_db


def test_a_lockout_goes_from_begun_to_available() -> None:
    pump = make_pump()
    pump.make_verified()
    assert pump.stand.verified
    assert [w.name for w in pump.stand.may_work] == ["K"]
    pump.end()
    pump.accept()
    assert pump.story().told("available")
    assert Reading.objects.get().asset == pump.fitted
