"""Which instrument serves as a standard, and until when."""

from __future__ import annotations

from dataclasses import dataclass

from assets import history
from assets.errors import Reason, Refusal
from assets.models import Asset, Person
from assets.permissions import SUPERVISORS, must_have_role
from calibration.actions.standards_kinds import unit_faults
from calibration.compute.families import written_unit
from calibration.compute.standards import INSTRUMENTS
from calibration.models import StandardUse


@dataclass(frozen=True, slots=True, kw_only=True)
class UseTyped:
    """As which standard an instrument serves; a measured tank says who measured it and how."""

    family: str
    unit: str
    measured_by: str = ""
    measured_how: str = ""


def serve_as_standard(*, asset: Asset, use: UseTyped, by: Person) -> StandardUse:
    """Let an instrument serve as a standard of a family. It may be relied on once a certificate of it is accepted."""
    must_have_role(by, asset.site, SUPERVISORS, to="let an instrument serve as a standard")
    reasons = _faults(asset, use)
    if reasons:
        raise Refusal(reasons)
    with history.act(site=asset.site, by=by) as act:
        row = act.add(
            StandardUse(
                asset=asset,
                family=use.family,
                unit=written_unit(use.unit, use.family),
                measured_by=use.measured_by.strip(),
                measured_how=use.measured_how.strip(),
                recorded_at=act.at,
                recorded_by=by,
            )
        )
        act.write("asset.serves as standard", subject=asset, facts={"family": row.family, "unit": row.unit})
    return row


def _faults(asset: Asset, use: UseTyped) -> list[Reason]:
    reasons: list[Reason] = []
    if use.family not in INSTRUMENTS:
        reasons.append(Reason("Serves as: choose what kind of standard it is.", "family"))
    if not use.unit.strip():
        reasons.append(Reason("Unit: nothing is written. Write the unit it is read in.", "unit"))
    else:
        reasons.extend(unit_faults(use.unit, use.family))
    if asset.retired_at is not None:
        reasons.append(Reason(f"{asset} is retired; a retired instrument is no standard."))
    if use.family == "tank" and not use.measured_by.strip():
        reasons.append(Reason("Measured by: nothing is written. Say who measured the tank.", "measured_by"))
    if use.family == "tank" and not use.measured_how.strip():
        sentence = "Measured how: nothing is written. Say how, like: inside diameter at three heights, steel tape."
        reasons.append(Reason(sentence, "measured_how"))
    return reasons


def end_standard_use(*, use: StandardUse, why: str, by: Person) -> StandardUse:
    """End that an instrument serves as a standard; checks made with it stay as they are."""
    must_have_role(by, use.asset.site, SUPERVISORS, to="end that an instrument serves as a standard")
    if not why.strip():
        raise Refusal("Because: nothing is written. Say why it serves as a standard no more.", field="why")
    with history.act(site=use.asset.site, by=by) as act:
        act.close(use, ended_at=act.at, ended_by=by, ended_because=why.strip()[:200])
        act.write("asset.serves no more", subject=use.asset, facts={"family": use.family, "why": why})
    return use
