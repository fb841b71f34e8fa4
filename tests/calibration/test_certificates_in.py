"""Certificates from a file: as CSV and as a spreadsheet, all or nothing, each once."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from assets.actions import AssetFacts, register_asset
from assets.compute.workbook import workbook_of
from assets.models import Event
from calibration.actions.standards_instruments import serve_as_standard
from calibration.forms.standards_instruments import UseForm
from calibration.models import Certificate
from calibration.reads.certificates import INTAKE
from calibration.reads.standards import standards_at
from tests.assets.signed_in import browser_of
from tests.make_checks import Bench

pytestmark = pytest.mark.django_db
HEAD = [
    "serial",
    "certificate",
    "issuer",
    "calibrated on",
    "valid until",
    "unit",
    "true",
    "as found",
    "as left",
    "U",
    "k",
]
ROWS = [
    ["PG-7", "C-101", "An invented laboratory", "2026-10-02", "2027-10-02", "kPa", "0", "0.4", "0.1", "0.3", "2"],
    ["PG-7", "C-101", "An invented laboratory", "2026-10-02", "2027-10-02", "kPa", "500", "501.0", "500.2", "0.4", "2"],
]
YES = dict.fromkeys(INTAKE, "yes")


@pytest.fixture
def bench(clock) -> Bench:
    bench = Bench(routine=False)
    facts = AssetFacts(kind="Reference gauge", serial="PG-7", model="", note="")
    bench.gauge = register_asset(site=bench.site, facts=facts, by=bench.supervisor)
    form = UseForm({"key": "u", "family": "gauge", "unit": "kPa", "measured_by": "", "measured_how": ""})
    assert form.is_valid(), form.errors
    serve_as_standard(asset=bench.gauge, use=form.use, by=bench.supervisor)
    return bench


def sent(bench: Bench, content: bytes, name: str, *, key: str, **answers: str):
    file = SimpleUploadedFile(name, content)
    where = reverse("calibration:certificates-in")
    return browser_of(bench.supervisor).post(where, {"key": key, "file": file, **YES, **answers})


def as_csv(rows: list[list[str]]) -> bytes:
    return "\n".join(",".join(row) for row in [HEAD, *rows]).encode()


def test_a_spreadsheet_is_taken_in_once_and_its_corrections_count(bench: Bench) -> None:
    assert sent(bench, workbook_of({"r": [HEAD, *ROWS]}), "results.xlsx", key="a").status_code == 302
    row = Certificate.objects.get()
    assert (row.number, row.uncertainty, row.accepted) == ("C-101", "0.4", True)
    key = f"asset-{bench.gauge.pk}"
    (standard,) = standards_at(bench.site, row.calibrated_on, keys=[key]).values()
    assert [float(add) for _, add in sorted(standard.corrections)] == [-0.1, -0.2]
    again = sent(bench, as_csv(ROWS), "results.csv", key="b")
    assert again.status_code == 302
    assert Certificate.objects.count() == 1
    assert Event.objects.filter(verb="certificates.taken in").count() == 2


def test_one_faulty_row_stops_the_whole_file_and_is_named(bench: Bench) -> None:
    other = [["TH-9", *ROWS[0][1:]]]
    answer = sent(bench, as_csv([*ROWS, *other]), "results.csv", key="c")
    assert answer.status_code == 422
    assert "No standard of this site has the serial “TH-9”" in answer.content.decode()
    assert not Certificate.objects.exists()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\xff\xfe\x00", "neither XLSX nor text"),
        (b"PK broken", "no spreadsheet"),
        (as_csv([]), "holds no certificate"),
        (as_csv([]) + b'\n"' + 140_000 * b"x", "a cell that does not end"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_in_words(bench: Bench, content: bytes, said: str) -> None:
    answer = sent(bench, content, "x.csv", key="d")
    assert answer.status_code == 422
    assert said in answer.content.decode()


def test_a_no_to_what_must_be_yes_accepts_nothing(bench: Bench) -> None:
    answer = sent(bench, as_csv(ROWS), "results.csv", key="e", asks_good_enough="no")
    assert answer.status_code == 422
    assert not Certificate.objects.exists()
