"""The booster pump, registered or verified under a lockout."""

from __future__ import annotations

import pytest

from tests.make_locks import Pump, make_pump


@pytest.fixture
def pump(db: None) -> Pump:
    """Everything registered and the procedure approved; no lockout yet."""
    return make_pump()


@pytest.fixture
def verified(pump: Pump) -> Pump:
    """Locked, let off, tested, with K's own lock on the box."""
    pump.make_verified()
    return pump
