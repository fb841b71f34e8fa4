"""The pieces of other pages that checks bring along, drawn as they stand there."""

from __future__ import annotations

import pytest
from django.template.loader import render_to_string

from assets.models import Role
from assets.permissions import Desk
from calibration.reads import review_panel, tag_panel, today_panel
from tests.make import make_person, make_position
from tests.make_checks import FAILING, Bench

pytestmark = pytest.mark.django_db


def drawn(name: str, panel: object) -> str:
    return render_to_string(f"calibration/{name}", {"panel": panel})


def test_the_tag_shows_limits_last_checks_and_where_to_begin(bench: Bench) -> None:
    check = bench.check(FAILING)
    desk = Desk(bench.operator, bench.site, Role.OPERATOR)
    html = drawn("_tag_panel.html", tag_panel(desk, bench.position))
    for words in ("±0.10 pH", f"Check {check.number}", "Begin a check", "As a file (CSV)", "Fail"):
        assert words in html
    viewer = Desk(make_person(site=bench.site, role=Role.VIEWER), bench.site, Role.VIEWER)
    assert "Begin a check" not in drawn("_tag_panel.html", tag_panel(viewer, bench.position))


def test_a_tag_without_a_requirement_says_so_and_lets_a_supervisor_set_one(bench: Bench) -> None:
    position = make_position(site=bench.site)
    supervisor = Desk(bench.supervisor, bench.site, Role.SUPERVISOR)
    html = drawn("_tag_panel.html", tag_panel(supervisor, position))
    assert "Say what it is checked by" in html
    operator = Desk(bench.operator, bench.site, Role.OPERATOR)
    html = drawn("_tag_panel.html", tag_panel(operator, position))
    assert "Nobody has said what this tag is checked by" in html
    assert "Say what it is checked by" not in html


def test_today_shows_what_is_not_finished_and_nothing_otherwise(bench: Bench) -> None:
    desk = Desk(bench.operator, bench.site, Role.OPERATOR)
    assert drawn("_today_panel.html", today_panel(desk)).strip() == ""
    draft = bench.draft()
    html = drawn("_today_panel.html", today_panel(desk))
    assert draft.get_absolute_url() in html
    assert "not signed" in html


def test_review_says_whose_turn_it_is(bench: Bench) -> None:
    mine = bench.check(FAILING, by=bench.supervisor)
    desk = Desk(bench.supervisor, bench.site, Role.SUPERVISOR)
    html = drawn("_review_panel.html", review_panel(desk))
    assert f"Look at check {mine.number}" in html
    other = Desk(make_person(site=bench.site, role=Role.SUPERVISOR), bench.site, Role.SUPERVISOR)
    assert f"Review check {mine.number}" in drawn("_review_panel.html", review_panel(other))
