"""A case of a method set up in the database: its standards, what it is set with, what depends on it, its browser."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

from django.test import Client

from assets import history
from assets.compute.canonical import canonical
from assets.models import Asset, Fitting, Person, Position, Role, Site
from calibration.actions.certificates import take_in_certificate
from calibration.actions.drafts import begin_draft
from calibration.actions.lots import LotTyped, record_lot_fact, register_lot
from calibration.actions.standards_instruments import UseTyped, end_standard_use, serve_as_standard
from calibration.actions.standards_kinds import KindTyped, add_kind
from calibration.actions.standards_made import AssignmentTyped, assign_value
from calibration.compute.figures import plain
from calibration.compute.method import AnyMethod, Known
from calibration.compute.standards import Standard
from calibration.compute.temperature_tables import TemperatureTable
from calibration.compute.typed import UNIT, Field, fields_for, read_fields
from calibration.compute.verdict import Outcome, judge
from calibration.forms.draft import fields_asked
from calibration.models import Check, Draft, Lot, Requirement, StandardKind, StandardUse
from calibration.reads.fitting import OF_MACHINES
from calibration.reads.instruments import key_of_asset
from calibration.reads.known import headline_unit
from tests.calibration.browser import SIGNS
from tests.calibration.compute.methods.cases import MethodCase
from tests.calibration.compute.methods.conftest import DAY
from tests.calibration.test_any_method import requirement_of
from tests.make import PIN, make_asset, make_fitting, make_person, make_position, make_site, make_use
from tests.make_standards import typed_certificate
from tests.make_upkeep import make_override

OWN = {"hold_on_at": "08:20", "hold_off_at": "08:40", "next": "nothing", "done": "adjusted"}
"""What every check asks beside its method, said the shortest way."""
PRIMARY = "last_primary"
"""The one setting that nobody types: the record knows when an instrument was last calibrated in a primary standard."""
FACTS = {"settings", "uses", "unit_key", "last", "kind", "forced"}
"""What a place can be given in the database."""
OLD = dt.timedelta(days=200)
STANDING = re.compile(r'id="ask-([^"]+)"')


class Ground:
    """A site with its people and the standards of one case, each with the key it has in the database.

    Standards are as old on `day` as the case has them on the day of the cases.
    """

    def __init__(self, case: MethodCase, day: dt.date = DAY) -> None:
        self.case, self.day = case, day
        self.site: Site = make_site(name=f"{case.method.code} works")
        self.supervisor: Person = make_person(site=self.site, role=Role.SUPERVISOR)
        self.operator: Person = make_person(site=self.site, role=Role.OPERATOR)
        self.browser = Client()
        self.browser.force_login(self.operator, backend="django.contrib.auth.backends.ModelBackend")
        self.assets: dict[str, Asset] = {}
        self.kinds: dict[str, StandardKind] = {}
        self.rows: dict[str, Lot | StandardUse] = {}
        self.standards: dict[str, Standard] = {}
        for one in (_later(each, day - DAY) for each in case.standards):
            self.standards[one.id] = self._lot(one) if one.is_lot else self._instrument(one)

    def asset(self, key: str, kind: str = "instrument") -> Asset:
        """The asset that a case calls by a key, made when it is first named."""
        if key not in self.assets:
            self.assets[key] = make_asset(site=self.site, kind=kind)
        return self.assets[key]

    def unfitted(self, key: str) -> Asset:
        """The asset of a key; where that is fitted somewhere, another one of its like, with the same blocks."""
        asset = self.asset(key)
        if not Fitting.objects.filter(asset=asset).exists():
            return asset
        self.assets[key] = make_asset(site=self.site, kind=asset.kind)
        for one in (_later(each, self.day - DAY) for each in self.case.standards):
            given = [value for value in one.assigned if value.unit_key == key]
            for value in given:
                self.assign(one.id, key, value.text, value.on)
            new = [replace(value, unit_key=key_of_asset(self.assets[key].pk)) for value in given]
            here = self.standards[one.id]
            self.standards[one.id] = replace(here, assigned=(*here.assigned, *new))
        return self.assets[key]

    def _kind(self, name: str, family: str, unit: str, table: TemperatureTable | None = None) -> StandardKind:
        if name not in self.kinds:
            rows = "\n".join(f"{_text(t)} {_text(value)}" for t, value in table.rows) if table is not None else ""
            source = table.source if table is not None else ""
            typed = KindTyped(name=name, family=family, quantity=family, unit=unit, table=rows, source=source)
            self.kinds[name] = add_kind(site=self.site, kind=typed, by=self.supervisor)
        return self.kinds[name]

    def _received(self, kind: StandardKind, number: str, value: str, expires: dt.date | None, **u: str) -> Lot:
        received = self.day - OLD
        typed = LotTyped(kind=kind, number=number, label_value=value, received_on=received, expires_on=expires, **u)
        return register_lot(site=self.site, lot=typed, by=self.supervisor)

    def _lot(self, one: Standard) -> Standard:
        name = one.kind_name or (one.table.name if one.table is not None else f"Some {one.kind}")
        kind = self._kind(name, one.kind, one.unit, one.table)
        lot = self._received(kind, one.label, one.nominal_text, one.expires, **_uncertainty(one))
        if one.opened is not None:
            record_lot_fact(lot=lot, kind="opened", day=one.opened, why="", by=self.operator)
        self.rows[one.id] = lot
        for value in one.assigned:
            self.assign(one.id, value.unit_key, value.text, value.on)
        keys = [key_of_asset(self.asset(value.unit_key).pk) for value in one.assigned]
        given = tuple(replace(value, unit_key=key) for value, key in zip(one.assigned, keys, strict=True))
        life = lot.opened_life_days
        return replace(one, id=str(lot.pk), kind_name=kind.name, opened_life=life, assigned=given)

    def assign(self, key: str, unit_key: str, value: str, on: dt.date) -> None:
        """Give a block its value on an instrument, after a primary calibration that stands on paper."""
        lot = self.rows[key]
        assert isinstance(lot, Lot)
        kind = self._kind("A primary standard", "turbidity standard", lot.kind.in_unit)
        primary = self._received(kind, f"primary {Lot.objects.count()}", "20", self.day)
        typed = AssignmentTyped(value=value, on=on, primary_lot=primary, primary_words="sheet of that day")
        assign_value(lot=lot, asset=self.asset(unit_key), given=typed, by=self.operator)

    def _instrument(self, one: Standard) -> Standard:
        asset = self.asset(one.id, one.kind)
        measured = {"measured_by": "Ines Calder", "measured_how": "steel tape"} if one.kind == "tank" else {}
        use = serve_as_standard(
            asset=asset, use=UseTyped(family=one.kind, unit=one.unit, **measured), by=self.supervisor
        )
        read = typed_certificate(
            self.site,
            unit=one.unit,
            until=one.expires,
            value=one.nominal_text if one.nominal else "",
            corrections=[(_text(shown), _text(more)) for shown, more in one.corrections],
            **_uncertainty(one),
        )
        take_in_certificate(asset=asset, read=read, accepted=True, because="", by=self.supervisor)
        self.rows[one.id] = use
        certificate = f"{read.number}, {read.issuer}"
        return replace(one, id=key_of_asset(asset.pk), label=str(asset), certificate=certificate)

    def spoil(self, key: str) -> None:
        """Let a standard be unfit: a lot is quarantined, an instrument serves no more."""
        row, one = self.rows[key], self.standards[key]
        if isinstance(row, Lot):
            record_lot_fact(lot=row, kind="quarantined", day=self.day, why="its label is torn", by=self.operator)
            self.standards[key] = replace(one, quarantined="its label is torn")
        else:
            end_standard_use(use=row, why="it was dropped", by=self.supervisor)
            self.standards[key] = replace(one, unfit="it serves as a standard no more: it was dropped")

    def named(self, typed: Mapping[str, str], stage: str) -> dict[str, str]:
        """What a case types, with the standards by the keys they have here; empty fields left out."""
        fields = {one.name: one for one in fields_for(self.case.method, stage)}

        def key(name: str, text: str) -> str:
            asked = fields.get(name)
            chosen = asked is not None and asked.ask.kind == "standard"
            return self.standards[text].id if chosen and text in self.standards else text

        return {name: key(name, text) for name, text in typed.items() if text}


def _later(one: Standard, by: dt.timedelta) -> Standard:
    return replace(
        one,
        expires=one.expires + by if one.expires is not None else None,
        opened=one.opened + by if one.opened is not None else None,
        assigned=tuple(replace(given, on=given.on + by) for given in one.assigned),
    )


def _text(value: Fraction) -> str:
    return plain(value).replace("−", "-")


def _uncertainty(one: Standard) -> dict[str, str]:
    if one.uncertainty is None or one.k is None:
        return {}
    return {"uncertainty": _text(one.uncertainty), "coverage": _text(one.k)}


def outcome_of(ground: Ground, stage: str, typed: Mapping[str, str], facts: Mapping[str, Any]) -> Outcome:
    """What the method says of these fields by the case's own settings and standards, beside the database."""
    method = ground.case.method
    standards = {one.id: one for one in ground.standards.values()}
    known = Known(day=ground.day, standards=standards, **{"settings": ground.case.settings, **facts})
    return judge(method, method.read(read_fields(fields_for(method, stage), typed), stage, {}), known)


@dataclass
class Place:
    """A tag of its own with a requirement and a draft there, for one set of facts."""

    ground: Ground
    requirement: Requirement
    draft: Draft
    facts: Mapping[str, Any]

    @property
    def stage(self) -> str:
        """Which set the draft is."""
        return self.draft.stage

    @property
    def asked(self) -> dict[str, Field]:
        """The fields of the page by name."""
        return {one.name: one for one in fields_asked(self.draft)}

    def expected(self, typed: Mapping[str, str]) -> Outcome:
        """What the method says of these fields by the case's own facts, worked out beside the database."""
        return outcome_of(self.ground, self.stage, typed, self.facts)

    def posted(self, typed: Mapping[str, str]) -> dict[str, str]:
        """The fields as a browser sends them: the unit that is chosen, the sign by its key."""
        off = typed.get("hold") != "on"
        data = {name: text for name, text in OWN.items() if name in self.asked and not (off and "hold" in name)}
        for name, text in typed.items():
            one = self.asked.get(name)
            if one is None:
                continue
            data[name] = text
            if one.has_units:
                data[name + UNIT] = typed.get(name + UNIT, one.ask.units[0])
            sign = next((word for word, mark in SIGNS.items() if one.ask.signed and text.startswith(mark)), "")
            if sign:
                data |= {f"{name}_sign": sign, name: text[1:]}
        return data

    def post(self, typed: Mapping[str, str], *, sign: bool = False, **own: str) -> Any:
        """Send the page: kept and shown again, or signed."""
        self.draft.refresh_from_db()
        data = {**self.posted(typed), **own, "version": str(self.draft.version), "proof": PIN}
        data["key"] = f"k-{self.draft.pk}-{self.draft.version}"
        url = self.draft.get_absolute_url()
        return (
            self.ground.browser.post(f"{url}sign/", data) if sign else self.ground.browser.post(url, data, follow=True)
        )


def place_of(ground: Ground, facts: Mapping[str, Any], *, earlier: Mapping[str, str]) -> Place:
    """A tag where these facts hold, made as the tool makes them; `earlier` is what the check before it typed.

    Figures of earlier sets come from a check that is signed through the page: the as found of the same check where
    the set is as left, else a whole check of the same instrument. The facts returned hold what the database gave.
    """
    position = _position(ground)
    held = {name: value for name, value in facts.items() if name not in {"kind", "last"}}
    held |= _fit(ground, position, facts)
    for use in facts.get("uses", ()):
        word, _, tag = use.partition(" ")
        there = Position.objects.filter(site=ground.site, tag=tag).first()
        target = there or make_position(site=ground.site, tag=tag, does="moves")
        make_use(position=position, target=target, by=ground.supervisor, use=word)
    held |= _force(ground, position, facts)
    settings = {**facts.get("settings", ground.case.settings)}
    primary = settings.pop(PRIMARY, "")
    requirement = _requirement(ground, position, settings)
    before = Before(ground, requirement, {**held, "settings": settings}, earlier)
    stage, check = facts.get("kind", "as found"), None
    if primary:
        before.calibrate()
        held["settings"] = {**settings, PRIMARY: ground.day.isoformat()}
    elif stage == "as left":
        check = before.sign(more=True)
    elif "last" in facts:
        before.sign(more=False)
    held["last"] = {name: before.figures[name] for name in facts.get("last", ()) if name in before.figures}
    draft = begin_draft(requirement=requirement, by=ground.operator, stage=stage, check=check)
    return Place(ground, requirement, draft, held)


def requirement_for(ground: Ground) -> Requirement:
    """A tag set as the case has it, where nothing has been begun."""
    return _requirement(ground, _position(ground), ground.case.settings)


def _position(ground: Ground) -> Position:
    method = ground.case.method
    if method.code in OF_MACHINES:
        return make_position(site=ground.site, does="moves")
    shown = [ask.units[0] for ask in method.asks if ask.units and ask.name in {"shown", "indicated"}]
    unit = (*shown, headline_unit(method) or "1")[0]
    return make_position(site=ground.site, quantity=method.quantity, unit=unit[:12], service="water, treated")


def _fit(ground: Ground, position: Position, facts: Mapping[str, Any]) -> dict[str, str]:
    """Fit the instrument that a case names; one of its own where the figures of an earlier check need one."""
    key = facts.get("unit_key", "") or ("fitted" if "last" in facts else "")
    if not key:
        return {}
    asset = ground.unfitted(key)
    make_fitting(position=position, asset=asset, by=ground.supervisor)
    return {"unit_key": key_of_asset(asset.pk), "unit_label": str(asset)}


def _force(ground: Ground, position: Position, facts: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """Force values there, each to the number that ends what the case calls it."""
    if not facts.get("forced"):
        return {}
    unit = position.unit or "m³/h"
    rows = [
        make_override(position, by=ground.operator, what="value on the HMI", value=one.split()[-1], unit=unit)
        for one in facts["forced"]
    ]
    return {"forced": tuple(f"{row.what}: {row.value} {row.unit}" for row in rows)}


def unasked(method: AnyMethod, settings: Mapping[str, str]) -> set[str]:
    """Return the settings that no page asks for with the requirement, or that it refuses as they are."""
    asks = {one.name: one for one in method.settings}
    wrong = set(settings) - set(asks) - {PRIMARY}
    for name in set(settings) & set(asks):
        low, high = asks[name].low, asks[name].high
        value = Fraction(settings[name]) if asks[name].kind == "number" else Fraction(0)
        if (low is not None and asks[name].kind == "number" and value < low) or (high is not None and value > high):
            wrong.add(name)
    return wrong


def _requirement(ground: Ground, position: Position, settings: Mapping[str, str]) -> Requirement:
    """Set the method; without a setting it must have, as it stands where it was set before that was asked."""
    method: AnyMethod = ground.case.method
    lacking = [one.name for one in method.settings if one.must and not settings.get(one.name)]
    whole = {**{name: ground.case.settings[name] for name in lacking}, **settings}
    requirement = requirement_of(ground, position, method.code, **whole)  # type: ignore[arg-type]
    if lacking:
        term = requirement.terms.get()
        term.pk, term._state.adding = None, True
        term.settings = canonical(dict(settings)) if settings else ""
        with history.act(site=ground.site, by=ground.supervisor) as act:
            act.add(term)
            act.write("requirement.changed", subject=requirement, facts={"why": "set before this was asked"})
    return requirement


class Before:
    """What was signed before at a place, through the page, with the figures it worked out."""

    def __init__(
        self, ground: Ground, requirement: Requirement, held: Mapping[str, Any], typed: Mapping[str, str]
    ) -> None:
        self.ground, self.requirement, self.held, self.typed = ground, requirement, held, typed
        self.figures: dict[str, Fraction] = {}

    def sign(self, *, more: bool) -> Check:
        """Sign the as found; with nothing done, the as left with it."""
        self._signed("as found", None, next="more" if more else "nothing")
        return Check.objects.latest("number")

    def calibrate(self, done: str = "adjusted") -> None:
        """Sign a whole check whose as left was read after an adjustment, or after what else was done."""
        self._signed("as left", self.sign(more=True), done=done)

    def _signed(self, stage: str, check: Check | None, **own: str) -> None:
        draft = begin_draft(requirement=self.requirement, by=self.ground.operator, stage=stage, check=check)
        place = Place(self.ground, self.requirement, draft, self.held)
        named = self.ground.named(self.typed, stage)
        answer = place.post(named, sign=True, **own)
        assert answer.status_code == 302, answer.content.decode()
        self.figures = {one.name: Fraction(one.value) for one in place.expected(named).worked.figures}
