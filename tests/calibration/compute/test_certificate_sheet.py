"""A calibrator's results from a file: understood point by point, every fault named with its row and column."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest

from assets.compute.csv_text import UnclosedCell
from assets.compute.workbook import rows_in, workbook_of
from calibration.compute.certificate_sheet import CertificateSheet, read_certificates, rows_of_csv

TODAY = date(2026, 11, 25)
HEAD = "serial,certificate,issuer,calibrated on,valid until,unit,true,as found,as left,U,k"
GOOD = [
    "PG-7,C-101,An invented laboratory,2026-10-02,2027-10-02,kPa,0,0.4,0.1,0.3,2",
    "PG-7,C-101,An invented laboratory,2026-10-02,2027-10-02,kPa,500,501.0,500.2,0.3,2",
    "TH-1,C-102,An invented laboratory,2026-10-03,,°C,0.00,0.05,,0.02,2",
]


def read(*lines: str, mark: str = "."):
    return read_certificates(rows_of_csv("\n".join([HEAD, *lines])), today=TODAY, decimal_mark=mark)


def test_points_of_one_certificate_stand_together_with_their_corrections() -> None:
    sheet = read(*GOOD)
    assert not sheet.faults
    gauge, thermometer = sheet.certificates
    assert (gauge.serial, gauge.number, len(gauge.points)) == ("PG-7", "C-101", 2)
    # true - shown as left: 0 - 0.1 and 500 - 500.2
    assert gauge.corrections == ((Fraction("0.1"), Fraction("-0.1")), (Fraction("500.2"), Fraction("-0.2")))
    assert thermometer.corrections == ((Fraction("0.05"), Fraction("-0.05")),)


def test_the_order_of_rows_changes_nothing() -> None:
    assert {one.corrections for one in read(*GOOD).certificates} == {
        one.corrections for one in read(*reversed(GOOD)).certificates
    }


FAULTS = {
    "no number": ("PG-7,C-101,Lab,2026-10-02,,kPa,0,abc,,,", 2, "as found"),
    "two meanings": ('PG-7,C-101,Lab,2026-10-02,,kPa,0,"1,234",,,', 2, "as found"),
    "no day": ("PG-7,C-101,Lab,02/10/2026,,kPa,0,0.1,,,", 2, "calibrated on"),
    "not yet": ("PG-7,C-101,Lab,2027-10-02,,kPa,0,0.1,,,", 2, "calibrated on"),
    "ends before": ("PG-7,C-101,Lab,2026-10-02,2026-09-01,kPa,0,0.1,,,", 2, "valid until"),
    "unit": ("PG-7,C-101,Lab,2026-10-02,,KPA,0,0.1,,,", 2, "unit"),
    "U alone": ("PG-7,C-101,Lab,2026-10-02,,kPa,0,0.1,,0.3,", 2, "k"),
    "U of nought": ("PG-7,C-101,Lab,2026-10-02,,kPa,0,0.1,,0,2", 2, "U"),
    "no serial": (",C-101,Lab,2026-10-02,,kPa,0,0.1,,,", 2, "serial"),
}


@pytest.mark.parametrize(("line", "row", "column"), FAULTS.values(), ids=FAULTS)
def test_every_fault_is_named_with_its_row_and_column(line: str, row: int, column: str) -> None:
    sheet = read(line)
    assert [(fault.row, fault.column) for fault in sheet.faults] == [(row, column)]
    assert not sheet.certificates


def test_rows_of_one_certificate_that_disagree_and_a_point_written_twice_are_named() -> None:
    other = GOOD[1].replace("An invented laboratory", "Another")
    assert [(one.row, one.column) for one in read(GOOD[0], other).faults] == [(3, "issuer")]
    assert [(one.row, one.column) for one in read(GOOD[0], GOOD[0]).faults] == [(3, "true")]


def test_a_heading_that_lacks_a_column_or_names_an_unknown_one_is_refused() -> None:
    sheet = read_certificates([["serial", "certificat"], ["x", "y"]], today=TODAY)
    assert {"certificat", "certificate", "issuer"} <= {fault.column for fault in sheet.faults}


def test_a_semicolon_file_with_decimal_commas_is_read() -> None:
    text = "\n".join([HEAD.replace(",", ";"), "PG-7;C-1;Lab;2026-10-02;;kPa;0;0,4;0,1;;"])
    (only,) = read_certificates(rows_of_csv(text), today=TODAY, decimal_mark=",").certificates
    assert only.corrections == ((Fraction("0.1"), Fraction("-0.1")),)


def test_a_point_written_twice_in_other_digits_is_the_same_point() -> None:
    again = GOOD[0].replace(",kPa,0,", ",kPa,0.00,")
    assert [(one.row, one.column) for one in read(GOOD[0], again).faults] == [(3, "true")]
    assert not read(GOOD[0], GOOD[1]).faults


BLANKS = ["", HEAD, "", GOOD[0], ",,,,,,,,,,", "", GOOD[1].replace("501.0", "abc"), ""]
"""Row 1, 3, 5, 6 and 8 are empty as a spreadsheet numbers them; row 7 has a fault."""


def in_a_workbook(lines: list[str]) -> CertificateSheet:
    content = workbook_of({"Certificates": [line.split(",") for line in lines]})
    return read_certificates(rows_in(content), today=TODAY)


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_a_fault_is_named_by_the_row_a_spreadsheet_shows_though_rows_are_empty(line_end: str) -> None:
    csv = read_certificates(rows_of_csv(line_end.join(BLANKS)), today=TODAY)
    for sheet in (csv, in_a_workbook(BLANKS)):
        assert [(fault.row, fault.column) for fault in sheet.faults] == [(7, "as found")]
        assert [one.first_row for one in sheet.certificates] == [4]
        assert str(sheet.faults[0]).startswith("Row 7, as found: ")


def test_without_empty_rows_both_files_count_alike() -> None:
    lines = [HEAD, GOOD[0], GOOD[1].replace("501.0", "abc")]
    for sheet in (read(*lines[1:]), in_a_workbook(lines)):
        assert [fault.row for fault in sheet.faults] == [3]


def test_a_heading_below_empty_rows_is_named_by_its_own_row_and_finds_what_stands_between_cells() -> None:
    text = "\n\n" + HEAD.replace("issuer", "isuer").replace(",", ";")
    assert {fault.row for fault in read_certificates(rows_of_csv(text), today=TODAY).faults} == {3}
    good = "\n\n" + "\n".join([HEAD, *GOOD]).replace(",", ";")
    assert len(read_certificates(rows_of_csv(good), today=TODAY).certificates) == 2


@pytest.mark.parametrize("above", [0, 3])
def test_a_cell_that_never_ends_is_named_by_its_row(above: int) -> None:
    text = "\n" * above + HEAD + '\n"' + "x" * 140_000
    with pytest.raises(UnclosedCell) as wrong:
        rows_of_csv(text)
    assert wrong.value.row == above + 2


def test_a_file_of_empty_rows_alone_is_empty() -> None:
    for rows in ([], [[]], [["", " "], []]):
        assert "The file is empty." in str(read_certificates(rows, today=TODAY).faults[0])
