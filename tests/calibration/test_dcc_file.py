"""The file of a signed check for other computers."""

from __future__ import annotations

import pytest
from defusedxml.ElementTree import fromstring
from django.test import Client
from django.urls import reverse

from calibration.compute.dcc import DCC
from tests.assets.signed_in import browser_of
from tests.make_checks import Bench

pytestmark = pytest.mark.django_db


def test_a_signed_check_becomes_a_file_and_a_wrong_country_is_said_at_its_field(clock) -> None:
    bench = Bench()
    check = bench.sign(bench.draft())
    client: Client = browser_of(bench.operator)
    where = reverse("calibration:check-dcc", args=[check.number])
    assert client.get(where).status_code == 200
    wrong = client.get(where, {"country": "1!", "schema": "3.3.0"})
    assert wrong.status_code == 422
    assert "no country of two letters" in wrong.content.decode()
    file = client.get(where, {"country": "ch", "schema": "3.2.0"})
    assert file["Content-Disposition"] == f'attachment; filename="check-{check.number}.xml"'
    root = fromstring(file.content)
    statuses = [one.text for one in root.iter(f"{{{DCC}}}status")]
    assert statuses == ["beforeAdjustment", "afterAdjustment"]
    assert {one.text for one in root.iter(f"{{{DCC}}}conformity")} == {"pass"}
