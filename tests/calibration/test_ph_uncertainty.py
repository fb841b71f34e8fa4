"""What a signed pH check says of its uncertainty, and that one signed before it was drawn still agrees."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from calibration.actions.requirements import change_requirement
from calibration.compute.methods import METHODS
from calibration.compute.methods.ph import budget, display
from calibration.models import Outcome
from calibration.reads.stored import agrees, worked_again
from tests.make_checks import Bench, make_lot, make_terms

pytestmark = pytest.mark.django_db


@pytest.fixture
def stated(bench: Bench) -> Bench:
    """A bench whose lots state U = 0.02 with k = 2."""
    for kind in ("7", "10"):
        bench.lots[kind] = make_lot(
            site=bench.site, by=bench.supervisor, kind=kind, number=f"2613-{kind}", uncertainty="0.02"
        )
    return bench


def test_a_signed_check_shows_the_uncertainty_its_lots_give(stated: Bench, operator: Client) -> None:
    check = stated.check()
    for name in ("check", "check-paper"):
        html = operator.get(reverse(f"calibration:{name}", args=[check.number])).content.decode()
        assert "Expanded uncertainty U = k × u_c, error at the process value" in html
        assert "Plain pass or fail" not in html and "differs" not in html
    page = operator.get(reverse("calibration:check", args=[check.number])).content.decode()
    assert "uncertainty 0.017, not part of this rule" in page


def test_the_guarded_rule_may_rest_on_the_uncertainty_of_the_lots(stated: Bench, operator: Client) -> None:
    terms = make_terms(rule="guarded", uncertainty_source="the certificates of the lots")
    change_requirement(requirement=stated.requirement, terms=terms, why="lots state it", by=stated.supervisor)
    check = stated.check()
    page = operator.get(reverse("calibration:check", args=[check.number])).content.decode()
    assert "uncertainty 0.017" in page and "not part of this rule" not in page


def test_a_check_signed_before_the_budget_still_agrees(stated: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    now = METHODS["ph"]
    monkeypatch.setattr(budget, "can_be_drawn", lambda setup: False)
    monkeypatch.setattr(display, "can_be_drawn", lambda setup: False)
    monkeypatch.setitem(METHODS, "ph", replace(now, version="1.0"))
    stated.check()
    monkeypatch.undo()
    for outcome in Outcome.objects.all():
        assert outcome.method_version == "1.0"
        assert "Expanded" not in json.dumps(json.loads(outcome.working))
        assert agrees(outcome, worked_again(outcome.set, outcome))
