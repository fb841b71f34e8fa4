"""Taking in a calibrator's certificates from a file: all of it or nothing, each certificate once."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from django.utils import timezone

from assets import history
from assets.compute.csv_text import UnclosedCell
from assets.compute.register_csv import Fault
from assets.compute.workbook import NotAWorkbook, rows_in
from assets.errors import Reason, Refusal
from assets.models import Asset, Person, Site
from assets.permissions import SUPERVISORS, must_have_role
from calibration.actions.certificates import CertificateTyped, take_in_certificate
from calibration.compute.certificate_sheet import CertificateRows, read_certificates, rows_of_csv
from calibration.compute.figures import plain
from calibration.models import Certificate, StandardUse

ZIP = b"PK"


@dataclass(frozen=True, slots=True)
class TakenIn:
    """What a file did: certificates taken in, and those that were here already."""

    new: int
    same: int


def take_in_certificates(*, site: Site, content: bytes, asked: Mapping[str, str], by: Person) -> TakenIn:
    """Take in every certificate of a CSV or XLSX file, accepted by who answers `asked` for all of them.

    Raises Refusal with every fault, its row and column; then nothing of the file is taken. A certificate that is here
    already counts as the same.
    """
    must_have_role(by, site, SUPERVISORS, to="take in certificates")
    today = timezone.now().astimezone(site.zone).date()
    sheet = read_certificates(rows_of_file(content), today=today, decimal_mark=site.decimal_mark)
    serving = {use.asset.serial.upper(): use.asset for use in _serving(site)}
    faults = [*sheet.faults, *(fault for one in sheet.certificates for fault in _place_faults(one, serving))]
    if faults:
        raise Refusal([Reason(str(fault), "file") for fault in faults])
    if not sheet.certificates:
        raise Refusal("The file holds no certificate: under its heading stands no row.", field="file")
    new = [one for one in sheet.certificates if not _is_here(serving[one.serial.upper()], one)]
    file_hash = hashlib.sha256(content).hexdigest()
    with history.act(site=site, by=by) as act:
        for one in new:
            read = _typed(one, file_hash, asked)
            take_in_certificate(asset=serving[one.serial.upper()], read=read, accepted=True, because="", by=by)
        facts = {"new": len(new), "same": len(sheet.certificates) - len(new), "file_hash": file_hash}
        act.write("certificates.taken in", subject=site, facts=facts)
    return TakenIn(len(new), len(sheet.certificates) - len(new))


def rows_of_file(content: bytes) -> list[list[str]]:
    """Return the rows of a CSV or XLSX file. Raises Refusal for one that can be read as neither."""
    try:
        if content.startswith(ZIP):
            return rows_in(content)
        return rows_of_csv(content.decode("utf-8-sig"))
    except (NotAWorkbook, UnclosedCell) as wrong:
        raise Refusal(str(wrong), field="file") from None
    except UnicodeDecodeError:
        raise Refusal(
            "The file is neither XLSX nor text in UTF-8; save it anew as one of them.", field="file"
        ) from None


def _serving(site: Site) -> list[StandardUse]:
    return list(StandardUse.objects.filter(asset__site=site, ended_at=None).select_related("asset__site"))


def _place_faults(one: CertificateRows, serving: Mapping[str, Asset]) -> list[Fault]:
    row, faults = one.first_row, []
    if one.serial.upper() not in serving:
        what = f"No standard of this site has the serial “{one.serial}”."
        faults.append(Fault(row, "serial", what, "Let the instrument serve as a standard first, or mend the serial."))
    if one.valid_until is None:
        faults.append(Fault(row, "valid until", "Nothing is written.", "Write the last day the plant relies on it."))
    if len({point.k for point in one.points}) > 1:
        faults.append(Fault(row, "k", "The points have different k.", "Take this certificate in by hand."))
    return faults


def _is_here(asset: Asset, one: CertificateRows) -> bool:
    return Certificate.objects.filter(asset=asset, issuer=one.issuer, number=one.number).exists()


def _typed(one: CertificateRows, file_hash: str, asked: Mapping[str, str]) -> CertificateTyped:
    stated = [point for point in one.points if point.uncertainty]
    largest = max(stated, key=lambda point: Fraction(point.uncertainty.replace(",", ".")), default=None)
    if one.valid_until is None:
        raise Refusal(f"Certificate {one.number} says no last day.", field="file")
    return CertificateTyped(
        number=one.number,
        issuer=one.issuer,
        calibrated_on=one.calibrated_on,
        until=one.valid_until,
        unit=one.unit,
        accreditation="stated in the file" if one.accredited else "",
        method=one.method,
        as_found_given=True,
        as_left_given=any(point.as_left for point in one.points),
        uncertainty=largest.uncertainty if largest is not None else "",
        coverage=largest.k if largest is not None else "",
        file_hash=file_hash,
        corrections=tuple(
            (point.as_left or point.as_found, plain(point.correction, most=9).replace("\u2212", "-"))
            for point in one.points
        ),
        asked=asked,
    )
