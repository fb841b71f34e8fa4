"""The demo plant, written once for all tests here: nothing in it was faked, and it shows what it is meant to show."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
from django.contrib.auth.hashers import check_password
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.urls import reverse

from assets import triggers
from assets.actions.links import IssuedLink, token_hash
from assets.models import (
    AccessLink,
    Event,
    Fitting,
    Membership,
    NightReport,
    Person,
    Position,
    Reading,
    Role,
    Signature,
    Site,
)
from assets.proofs import prove_by_code
from assets.reads.records import check_records
from calibration import models as kept
from calibration.compute.methods import METHODS
from calibration.models import Check, CheckReview, Lot, Outcome, Requirement
from calibration.reads.history import history_of
from calibration.reads.instrument_page import recall_view
from calibration.reads.instruments import instrument_rows
from calibration.reads.orders import order_of
from calibration.reads.seen import seen_of
from calibration.reads.stored import agrees, worked_again
from maintenance.compute import schedule
from maintenance.compute.lockout import Fits, Story, fits, standing
from maintenance.models import Application, Deferral, Failure, Lockout, Occurrence, OrderState, Override, WorkOrder
from maintenance.reads import locks_testers
from maintenance.reads.due_words import state_of
from maintenance.reads.locks_story import story_of
from maintenance.reads.nightly import differences
from maintenance.reads.walks_strapping import table_rows, table_view
from spanwell.demo import cast
from spanwell.demo.clock import StoryClock, at_the_time_of
from spanwell.demo.story import write_past
from spanwell.demo.upkeep import ROUTINES
from tests.spanwell.found import asked_and_answered, counted, good_bottles_beside, typed_anew
from tests.spanwell.taking_off import close_the_story

NOW = dt.datetime(2026, 11, 25, 17, 20, tzinfo=dt.UTC)  # 10:20 at the plant
TODAY = dt.date(2026, 11, 25)

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module", autouse=True)
def link(django_db_setup: None, django_db_blocker: Any) -> Iterator[IssuedLink]:
    """The contractor's link of a plant whose past ends now; committed, and emptied out after the last test here."""
    with django_db_blocker.unblock():
        issued = write_past(now=NOW, address="http://localhost:8000")
        with at_the_time_of(StoryClock(NOW)):
            yield issued
        triggers.drop(connection)  # they refuse to let anything be emptied; flush makes them anew
        call_command("flush", interactive=False, verbosity=0)


@pytest.fixture
def site() -> Site:
    return Site.objects.get()


def at(tag: str) -> Position:
    return Position.objects.get(tag=tag)


# ----------------------------------------------------------------------------------------------------- nothing is faked


def test_the_record_proves_itself() -> None:
    assert check_records() == []


def test_todays_code_works_every_signed_set_out_as_it_was_signed() -> None:
    stored = Outcome.objects.select_related("set__check_of__site")
    assert [str(one.set) for one in stored if not agrees(one, worked_again(one.set, one))] == []


def test_due_items_agree_with_the_facts_and_every_night_said_so(site: Site) -> None:
    assert list(differences(site, TODAY)) == []
    reports = NightReport.objects.filter(site=site)
    assert reports.filter(site_day=TODAY).exists()
    assert set(reports.values_list("differences", flat=True)) == {0}


def test_the_past_lies_in_the_past_was_entered_in_order_and_nothing_was_refused() -> None:
    for chain in (0, Site.objects.get().pk):
        entered = list(Event.objects.filter(chain=chain).order_by("number").values_list("recorded_at", flat=True))
        assert entered == sorted(entered)
        assert entered[-1] <= NOW
    assert dt.timedelta(days=540) < NOW - entered[0] < dt.timedelta(days=550)
    assert not [event for event in Event.objects.all() if event.happened_at > event.recorded_at]
    assert not Event.objects.filter(verb__in=["refused", "proof.refused"]).exists()


def test_every_signature_of_the_past_says_that_it_is_the_demos() -> None:
    assert set(Signature.objects.values_list("proof", flat=True)) == {"demo"}


# -------------------------------------------------------------------------------------------------------- plant, people


def test_the_register_came_through_the_importer(site: Site) -> None:
    assert Event.objects.filter(verb__startswith="register").count() == 1
    assert Position.objects.at(site).standing().count() == 69
    assert [use.on for use in at("AIT-410").uses.now() if use.use == "paces"] == ["P-41", "P-42"]


def test_everybody_signs_in_with_what_the_demo_prints(client: Client) -> None:
    for part in cast.STAFF:
        person = Person.objects.get(sign_in=part.sign_in)
        assert person.check_password(cast.PASSWORD)
        assert check_password(part.pin, person.pin_hash)
        assert Membership.objects.now().get(person=person).role == part.role
    contractor = Person.objects.get(name=cast.DAVOR.name)
    assert (contractor.sign_in, contractor.pin_hash, contractor.has_usable_password()) == (None, "", False)


def test_readings_stand_in_every_week_and_of_late_on_nearly_every_day_and_one_was_corrected() -> None:
    taken = Reading.objects.filter(position=at("AIT-410")).values_list("taken_at", flat=True)
    back = {(NOW - moment).days for moment in taken}
    assert {days // 7 for days in back} >= set(range(77))
    assert len([days for days in back if days < 45]) > 36
    assert Reading.objects.filter(replaces__isnull=False).count() == 1


# --------------------------------------------------------------------------------------------------------------- checks


def verdicts(tag: str, kind: str) -> list[str]:
    rows = Outcome.objects.filter(set__check_of__position__tag=tag, set__kind=kind)
    return list(rows.order_by("set__performed_at").values_list("verdict", flat=True))


def test_the_treated_water_probe_failed_this_morning_and_waits_for_a_second_buffer() -> None:
    check = Check.objects.order_by("-number")[0]
    assert (check.position.tag, [of.kind for of in check.sets.all()]) == ("AIT-410", ["as found"])
    assert check.sets.get().outcome.verdict == "fail"
    order = order_of(check)
    assert order is not None
    assert (order.state, order.confirmed) == ("raised", "not yet confirmed")
    assert "P-41" in order.reason


def test_a_visitor_has_other_bottles_in_date_for_the_second_buffer() -> None:
    newest = Check.objects.order_by("-number")[0]
    assert {"7.00", "10.01"} <= good_bottles_beside(newest, TODAY)


def test_earlier_a_probe_failed_was_confirmed_exchanged_and_accepted() -> None:
    order = WorkOrder.objects.get(position=at("AIT-120"))
    assert (order.state, order.confirmed) == ("accepted", "confirmed")
    assert verdicts("AIT-120", "confirming") == ["fail"]
    assert verdicts("AIT-120", "as left").count("fail") == 1
    assert Fitting.objects.filter(position=at("AIT-120")).count() == 2


def test_a_bad_bottle_was_found_and_quarantined_and_its_order_withdrawn() -> None:
    assert Lot.objects.filter(kind__family="", facts__kind="quarantined").count() == 1
    assert verdicts("AIT-410", "confirming") == ["pass"]
    assert WorkOrder.objects.get(position=at("AIT-410"), state="withdrawn").withdrawn_because.startswith("a second")


def test_one_check_was_not_valid_one_was_corrected_and_some_passed_narrowly() -> None:
    assert Outcome.objects.filter(valid=False).count() == 1
    assert Check.objects.filter(replaces__isnull=False).count() == 1
    assert "conditional pass" in verdicts("AIT-210", "as found")


def test_failed_checks_are_reviewed_by_another_except_the_newest() -> None:
    bad = {"fail", "no verdict"}
    failed = Check.objects.filter(sets__outcome__verdict__in=bad).distinct()
    reviewed = set(CheckReview.objects.values_list("check_of", flat=True))
    assert {check.pk for check in failed} - reviewed == {Check.objects.order_by("-number")[0].pk}


# ------------------------------------------------------------------------------------- every instrument, every standard

AS_FOUND_BY_METHOD = {
    "turbidity": 38, "chlorine": 27, "orp": 26, "conductivity": 15, "feed-pump": 13, "gas-detector": 13,
    "flow-comparison": 13, "level": 10, "oxygen": 9, "uv-transmittance": 9, "streaming-current": 9, "uv-intensity": 7,
    "comparison": 7, "membrane-integrity": 7, "bench-meter": 7, "pressure": 6, "temperature": 6,
    "particle-counter": 6, "differential-pressure": 3, "weigh-scale": 3, "trip-test": 3, "current-loop": 2,
    "flow-volume": 2, "running-meter": 1,
}  # fmt: skip


def checked_by(tag: str, method: str) -> Requirement:
    return Requirement.objects.select_related("site", "plan").get(position__tag=tag, method=method)


def test_every_method_of_the_plant_has_its_checks_and_only_one_of_them_failed() -> None:
    rows = kept.ReadingSet.objects.filter(kind="as found").exclude(check_of__method="ph")
    assert Counter(rows.values_list("check_of__method", flat=True)) == AS_FOUND_BY_METHOD
    assert {*AS_FOUND_BY_METHOD, "ph"} == set(METHODS)
    assert set(rows.values_list("outcome__valid", flat=True)) == {True}
    assert [of.check_of.position.tag for of in rows.exclude(outcome__verdict="pass")] == ["AIT-510"]
    assert set(verdicts("AIT-510", "as left")) == {"pass"}
    assert WorkOrder.objects.get(position=at("AIT-510")).state == "accepted"


def test_a_baseline_is_fixed_and_one_later_check_breaks_its_limits_and_passes_all_the_same() -> None:
    assert (charted := history_of(checked_by("AIT-520", "orp")).charted) is not None
    assert "11 good checks" in charted.says
    assert any("beyond 3 standard deviations" in said for said in charted.signals)
    assert set(verdicts("AIT-520", "as found")) == {"pass"}


def test_a_flow_meter_drifts_and_the_advice_on_its_interval_was_left_with_a_reason() -> None:
    found = history_of(checked_by("FIT-330", "flow-comparison"))
    assert any("rising trend" in said for said in found.drift_says)
    assert [(one.taken, one.days_after) for one in found.decisions] == [(False, 30)]


def test_a_lot_was_withdrawn_with_the_checks_that_relied_on_it_and_they_were_done_again() -> None:
    recall = kept.Recall.objects.get(lot__facts__kind="quarantined")
    again, _ = Check.objects.filter(position=at("CIT-360"), begun_at__gt=recall.recorded_at).order_by("number")
    assert [(row.tag, row.again) for row in recall_view(recall).rows] == [("CIT-360", again), ("CIT-360", again)]
    assert len(seen_of(checked_by("CIT-360", "conductivity"), "error")) == AS_FOUND_BY_METHOD["conductivity"] - 2


def test_an_instrument_was_withdrawn_and_what_it_put_in_doubt_is_owed_still() -> None:
    rows = recall_view(kept.Recall.objects.get(asset__serial="B-1302")).rows
    assert [(row.tag, row.again) for row in rows] == [("AIT-355", None), ("AIT-355", None)]


def test_instruments_serve_as_standards_one_refused_one_away(site: Site) -> None:
    words = Counter(row.state.word for row in instrument_rows(site, TODAY))
    assert words == {"In date": 9, "Not to be used": 2, "Away": 1}
    assert kept.Certificate.objects.get(accepted=False).because
    assert kept.Dilution.objects.count() == 4
    assert {given.asset.serial for given in kept.Assignment.objects.all()} == {"T9-0442"}


def test_the_pages_of_every_requirement_standard_and_withdrawal_open(client: Client) -> None:
    client.force_login(Person.objects.get(sign_in="ruth"), backend="django.contrib.auth.backends.ModelBackend")
    newest = [Check.objects.filter(method=method).order_by("-number")[0] for method in AS_FOUND_BY_METHOD]
    rows: list[Any] = [*Requirement.objects.all(), *newest, *kept.StandardUse.objects.all(), *kept.Recall.objects.all()]
    paths = [row.get_absolute_url() for row in rows]
    paths += [reverse("calibration:history-of", args=[one.pk]) for one in Requirement.objects.all()]
    assert [path for path in paths if client.get(path).status_code != 200] == []


# --------------------------------------------------------------------------------------------------------------- upkeep


def word(row: Occurrence) -> str:
    return state_of(row, TODAY).value


def test_there_is_a_due_item_in_every_state_and_few_are_asked_for_today() -> None:
    found = Counter(word(row) for row in Occurrence.objects.all())
    assert set(found) == {state.value for state in schedule.State}
    assert found["overdue"] == 4
    assert found["late but allowed"] + found["due"] < 12


PH = "Calibrate pH, two points"
MORE = [
    ("AIT-410", PH, "overdue"), ("AIT-210", PH, "due"), ("AIT-120", PH, "late but allowed"),
    ("P-61", "Replace the packing", "deferred"), ("P-61", "Change the bearing oil", "can be done now"),
    ("AIT-355", "Compare transmittance with the bench", "overdue"),
]  # fmt: skip


def test_what_today_asks_is_what_the_table_of_routines_says_of_it() -> None:
    for tag, title, said in [*MORE, *((one.tag, one.title, one.today) for one in ROUTINES)]:
        rows = Occurrence.objects.open().filter(plan__position=at(tag), plan__title=title).order_by("earliest")
        assert (tag, title, word(rows[0])) == (tag, title, said)


def test_one_request_was_refused_and_one_routine_put_off_one_value_was_forced_and_one_is() -> None:
    decided = Deferral.objects.order_by("asked_at").values_list("plan__position__tag", "approved")
    assert list(decided) == [("P-62", False), ("P-61", True)]
    rows = Override.objects.order_by("number").values_list("position__tag", "restored_how")
    assert list(rows) == [("LIT-610", "value moved"), ("FIT-330", "")]


def test_figures_and_the_faults_of_a_bad_actor_rest_on_enough_to_be_shown() -> None:
    faults = Failure.objects.filter(order__position=at("P-51"), replaced_by=None).values_list("shows", flat=True)
    assert list(faults) == ["leaks outside"] * 5  # nothing is shown from fewer


def test_there_is_a_work_order_in_every_state() -> None:
    assert set(WorkOrder.objects.values_list("state", flat=True)) == set(OrderState.values)


def test_counters_of_the_twin_pumps_rise_each_morning_by_no_more_than_they_can() -> None:
    for what, an_hour in (("Run hours", 1), ("Starts", 20)):
        steps = [*counted(at("P-61"), what), *counted(at("P-62"), what)]
        assert len(steps) > 28
        assert all(0 < count < an_hour * hours for hours, count in steps)


def test_the_twin_pumps_were_read_the_wrong_way_round_once_and_put_right() -> None:
    answer = "Exchanged: put both right"
    assert asked_and_answered() == [(f"P-61 shows the {of} of P-62?", answer) for of in ("hours", "starts")]
    assert [one == other[::-1] for one, other in map(typed_anew, ("Run hours", "Starts"))] == [True, True]


def test_the_hill_tank_has_a_table_that_took_the_place_of_its_drawing(site: Site) -> None:
    table = table_rows(site, TODAY)[0].table
    assert (str(table.position.tag), (TODAY - table.from_day).days) == ("LIT-601", 118)
    assert [one.source for one in table_view(table, TODAY).others] == ["drawing KH-14 of the tank, 1988"]


# ---------------------------------------------------------------------------------------------------------------- locks


def booster() -> Story:
    return story_of(Lockout.objects.get(position=at("P-72")))


def test_the_booster_pump_is_locked_tested_and_has_the_contractors_lock_on_the_box() -> None:
    story = booster()
    stand = standing(story)
    assert stand.locked
    assert stand.verified
    assert sorted(hung.lock for hung in story.on) == ["14", "15", "16", "DM-4"]
    assert [(hung.owner.name, hung.place) for hung in story.box_on] == [(cast.DAVOR.name, "box 3")]
    assert story.revision == 4
    run = story.last("test run ended")
    assert run is not None
    assert all(hung.number > run.number for hung in story.on)


def test_the_new_pump_asks_whether_the_procedure_fits_and_nobody_has_answered() -> None:
    story = booster()
    assert fits(story) is Fits.OPEN
    assert story.fitted is not None
    assert story.fitted.name.endswith("8-2291")
    assert story.written_for.endswith("8-2214")
    assert story.in_charge.name == cast.NOOR.name
    assert not story.told("answered") or max(note.number for note in story.told("answered")) < story.on[0].number


def test_the_testers_are_in_date(site: Site) -> None:
    testers = [one for one in locks_testers.testers(site, today=TODAY) if not one.refused]
    assert {one.asset.serial for one in testers} == {"V-4419", "G-1203"}


def test_earlier_lockouts_are_closed_and_their_machines_available() -> None:
    earlier = [Lockout.objects.get(position=at(tag)) for tag in ("P-61", "P-71", "P-01")]
    assert all(one.closed_at is not None and story_of(one).told("available") for one in earlier)


def test_the_contractors_printed_link_and_code_open_the_job_and_there_is_no_other_way_in(link: IssuedLink) -> None:
    found = AccessLink.objects.get(token_hash=token_hash(link.token))
    assert found.closed_at is None
    assert found.path == f"/locks/{Lockout.objects.get(position=at('P-72')).number}/"
    assert prove_by_code(found, link.code).person_id == Person.objects.get(name=cast.DAVOR.name).pk
    assert not Membership.objects.now().filter(role=Role.CONTRACTOR).exclude(person__sign_in=None).exists()


def test_a_visitor_can_close_the_story_with_what_the_demo_prints(link: IssuedLink) -> None:
    lockout = Lockout.objects.select_related("site").get(position=at("P-72"))
    contractor = AccessLink.objects.get(token_hash=token_hash(link.token))
    close_the_story(lockout, prove_by_code(contractor, link.code))
    assert booster().told("available")
    assert not Application.objects.on().exists()


# ---------------------------------------------------------------------------------------------------------------- pages

PAGES = {
    "ruth": "/ /plant/ /plant/labels/ /checks/ /standards/ /upkeep/ /upkeep/orders/ /locks/ /review/",
    "ines": "/ /checks/1/ /upkeep/?state=overdue /upkeep/routines/ /assets/ /me/",
    "mina": "/people/ /site/ /me/",
    "edda": "/ /plant/ /upkeep/ /locks/",
}


@pytest.mark.parametrize("who", PAGES)
def test_pages_open_with_the_demos_data(client: Client, who: str) -> None:
    client.force_login(Person.objects.get(sign_in=who), backend="django.contrib.auth.backends.ModelBackend")
    assert [page for page in PAGES[who].split() if client.get(page).status_code != 200] == []


def test_the_page_of_every_tag_opens(client: Client, site: Site) -> None:
    client.force_login(Person.objects.get(sign_in="ruth"), backend="django.contrib.auth.backends.ModelBackend")
    for position in Position.objects.at(site):
        assert client.get(f"/tag/{position.label_code}/").status_code == 200, position.tag
