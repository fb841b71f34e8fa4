"""One spelling for what is hashed."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from assets.compute.canonical import canonical, chained, digest


def test_the_same_value_has_one_spelling_whatever_its_order_and_zone() -> None:
    at = dt.datetime(2026, 11, 25, 14, 5, tzinfo=dt.UTC)
    here = at.astimezone(ZoneInfo("America/Denver"))
    assert canonical({"b": 1, "a": at}) == canonical({"a": here, "b": 1})
    assert canonical({"a": at}) == '{"a":"2026-11-25T14:05:00.000000+00:00"}'


def test_text_and_numbers_do_not_meet_and_letters_stay() -> None:
    assert canonical({"µ": "7.10"}) == '{"µ":"7.10"}'
    assert canonical([7.1, 7, True, None]) == '["7.1","7",true,null]'


def test_a_value_without_a_single_spelling_is_refused() -> None:
    with pytest.raises(TypeError, match="no single spelling"):
        canonical({"x": Decimal("1.0")})


def test_hashes_are_sha_256_of_the_text() -> None:
    # Computed by Python's own hashlib and json, beside the function.
    text = json.dumps({"a": "1"}, separators=(",", ":"))
    assert digest({"a": 1}) == hashlib.sha256(text.encode()).hexdigest()
    assert chained("0" * 64, "x") == hashlib.sha256(b"0" * 64 + b"\nx").hexdigest()
