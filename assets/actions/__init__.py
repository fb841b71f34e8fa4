"""Every change of the plant and its people: one function a change, for pages, commands, tasks and the apps above."""

from __future__ import annotations

from assets.actions.fittings import exchange_asset, fit_asset, take_out_asset
from assets.actions.links import IssuedLink, close_access_link, make_access_link
from assets.actions.night import report_night
from assets.actions.people import (
    NewPerson,
    PersonFacts,
    QualificationFacts,
    add_qualification,
    change_company,
    change_person,
    register_company,
    register_person,
    set_own_email,
    withdraw_qualification,
)
from assets.actions.plant import (
    AssetFacts,
    PositionFacts,
    change_area,
    change_asset,
    change_position,
    register_area,
    register_asset,
    register_position,
    retire_area,
    retire_asset,
    retire_position,
)
from assets.actions.readings import CounterBroken, ReadingFacts, correct_reading, record_reading
from assets.actions.register_import import Looked, Step, look_through, take_register
from assets.actions.roles import change_role, end_role, retire_person
from assets.actions.secrets import clear_pin, set_password, set_pin
from assets.actions.signing_in import record_refused_sign_in, record_sign_in
from assets.actions.site import SiteFacts, change_site, start_site
from assets.actions.site_rules import (
    RuleTyped,
    add_holiday,
    set_rule,
    start_running,
    stop_running,
    withdraw_holiday,
    withdraw_running,
)
from assets.actions.uses_limits import LimitFacts, end_limit, end_use, register_use, set_limit

__all__ = [
    "AssetFacts",
    "CounterBroken",
    "IssuedLink",
    "LimitFacts",
    "Looked",
    "NewPerson",
    "PersonFacts",
    "PositionFacts",
    "QualificationFacts",
    "ReadingFacts",
    "RuleTyped",
    "SiteFacts",
    "Step",
    "add_holiday",
    "add_qualification",
    "change_area",
    "change_asset",
    "change_company",
    "change_person",
    "change_position",
    "change_role",
    "change_site",
    "clear_pin",
    "close_access_link",
    "correct_reading",
    "end_limit",
    "end_role",
    "end_use",
    "exchange_asset",
    "fit_asset",
    "look_through",
    "make_access_link",
    "record_reading",
    "record_refused_sign_in",
    "record_sign_in",
    "register_area",
    "register_asset",
    "register_company",
    "register_person",
    "register_position",
    "register_use",
    "report_night",
    "retire_area",
    "retire_asset",
    "retire_person",
    "retire_position",
    "set_limit",
    "set_own_email",
    "set_password",
    "set_pin",
    "set_rule",
    "start_running",
    "start_site",
    "stop_running",
    "take_out_asset",
    "take_register",
    "withdraw_holiday",
    "withdraw_qualification",
    "withdraw_running",
]
