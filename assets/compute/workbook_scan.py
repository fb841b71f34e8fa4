"""What an XLSX file is and how large, looked at part by part as a stream before anything of it is built up in memory.

A file of a few kilobytes can be made to unpack without end, to name a cell in the last column of every row, or to merge
a million cells; and what a person does not see in a sheet (hidden rows, formulas behind values) stands only here.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from dataclasses import dataclass, field
from xml.parsers import expat

LARGEST = 5_000_000
"""Bytes of a file that is read: some 50,000 rows; a register or a certificate is a few hundred."""

UNPACKED = 60_000_000
"""Bytes that a file may hold once unpacked: a small file can be made to unpack without end."""

ROWS = 20_000
CELLS = 2_000_000  # rows times columns of the sheet that is read
ELEMENTS = 1_500_000  # of all parts together
ELEMENTS_BESIDE = 200_000  # of a part that is neither a sheet nor the texts of the sheets
KEPT = 20_000  # formulas or merged ranges that are kept to be named; one is enough to refuse a file
CHUNK = 65_536
LONGEST_MARK = 4 * CHUNK  # one without an end is read anew at each chunk, which takes the square of its length
PLACE = re.compile(r"([A-Z]{1,3})([0-9]{1,7})", re.ASCII)
STRICT = "http://purl.oclc.org/"
OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
PICTURES = (b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"RIFF", b"II*\0", b"MM\0*")
BROKEN_ZIP = (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, NotImplementedError, ValueError)
TOO_MUCH = "The file unpacks to far more than a table of a plant needs; it was not read."


class NotAWorkbook(ValueError):
    """The file cannot be read as a spreadsheet; the message says why and what would be right."""


@dataclass(slots=True)
class Shape:
    """What a sheet says of itself beside the values of its cells. Rows and columns count from 1.

    The last row and column that hold something; the text of each formula by (row, column); rows that are hidden and
    hold something; ranges of hidden columns (first, last); merged ranges as written, like A3:B4.
    """

    last_row: int = 0
    last_column: int = 0
    formulas: dict[tuple[int, int], str] = field(default_factory=dict)
    hidden_rows: list[int] = field(default_factory=list)
    hidden_columns: list[tuple[int, int]] = field(default_factory=list)
    merged: list[str] = field(default_factory=list)


def is_packed(content: bytes) -> bool:
    """Say whether a file is a ZIP, as every XLSX is."""
    return content.startswith(b"PK\x03\x04")


def other_kind(content: bytes) -> str:
    """Return in a sentence what a file is that is plainly no table: a picture, a PDF, an older workbook; else ''."""
    if content.startswith(OLE):
        return "This is a workbook of the older kind XLS, or one with a password. Save it as XLSX without a password."
    if content.startswith(b"%PDF"):
        return "This is a PDF, from which no table is read. Save the sheet itself as XLSX or CSV."
    if content.startswith(PICTURES):
        return "This is a picture, from which no table is read. Save the sheet itself as XLSX or CSV."
    if content.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<"):
        return "This is a page of the web or XML, whatever it is called. Open it and save it as XLSX or CSV."
    return ""


def shapes_in(content: bytes) -> dict[str, Shape]:
    """Return what each sheet of an XLSX file is like, by the name of its part.

    Raises NotAWorkbook for a file that is none, is too large or unpacks to too much, or declares entities.
    """
    if len(content) > LARGEST:
        raise NotAWorkbook(f"The file has {len(content) / 1e6:.1f} MB; at most {LARGEST / 1e6:.0f} MB are read.")
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if sum(one.file_size for one in packed.infolist()) > UNPACKED:
                raise NotAWorkbook(TOO_MUCH)
            _must_be_xlsx(packed)
            return _shapes(packed)
    except NotAWorkbook:
        raise
    except BROKEN_ZIP:
        raise NotAWorkbook("The file is no spreadsheet of the kind XLSX; save it as XLSX or as CSV.") from None


def _must_be_xlsx(packed: zipfile.ZipFile) -> None:
    names = {name.casefold() for name in packed.namelist()}
    if any(name.endswith("workbook.xml") for name in names):
        return
    what = "a packed file (ZIP) without a spreadsheet in it"
    if "xl/workbook.bin" in names:
        what = "a workbook of the kind XLSB"
    elif "mimetype" in names and b"opendocument.spreadsheet" in packed.read("mimetype")[:100]:
        what = "a spreadsheet of the kind ODS"
    elif any(name.startswith(("word/", "ppt/")) for name in names):
        what = "a text or slides, no spreadsheet"
    raise NotAWorkbook(f"This is {what}; it cannot be read. Save the sheet as XLSX or as CSV.")


def _shapes(packed: zipfile.ZipFile) -> dict[str, Shape]:
    found: dict[str, Shape] = {}
    elements = 0
    for part in packed.infolist():
        # By its beginning, not its name: which parts are read as XML is said inside the file.
        with packed.open(part) as stream:
            chunk = stream.read(CHUNK)
            if not chunk.lstrip(b"\xef\xbb\xbf\xff\xfe\0 \t\r\n").startswith(b"<"):
                continue
            scan = _Scan(elements)
            while chunk and scan.feed(chunk):
                chunk = stream.read(CHUNK)
        elements = scan.elements
        if scan.root == "worksheet":
            found[part.filename] = scan.shape
    return found


class _Scan:
    """Reads one part. What is broken ends it, as it ends the reading proper; only what is too much is refused here."""

    def __init__(self, elements: int) -> None:
        self.shape = Shape()
        self.root = ""
        self.elements = self.before = elements
        self._fed = 0
        self._row = self._column = 0
        self._hidden = self._in_cell = self._in_formula = False
        self._parser = expat.ParserCreate(namespace_separator=" ")
        self._parser.StartElementHandler = self._start
        self._parser.EndElementHandler = self._end
        self._parser.CharacterDataHandler = self._text
        self._parser.StartDoctypeDeclHandler = self._doctype

    def feed(self, chunk: bytes) -> bool:
        """Read on; return whether there is more to be read."""
        try:
            self._parser.Parse(chunk, False)  # noqa: FBT003 (expat names no such argument)
        except expat.ExpatError:
            return False
        self._fed += len(chunk)
        if self._fed - self._parser.CurrentByteIndex > LONGEST_MARK:
            raise NotAWorkbook(TOO_MUCH)
        return True

    def _doctype(self, *_: object) -> None:
        raise NotAWorkbook("The file declares a document type, as no spreadsheet does; it was not read.")

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        space, _, local = name.rpartition(" ")
        self.elements += 1
        if not self.root:
            self._begin(space, local)
        beside = self.root not in {"worksheet", "sst"} and self.elements - self.before > ELEMENTS_BESIDE
        if beside or self.elements > ELEMENTS:
            raise NotAWorkbook(TOO_MUCH)
        if self.root == "worksheet":
            self._sheet(local, attributes)

    def _begin(self, space: str, local: str) -> None:
        self.root = local
        if local in {"worksheet", "workbook"} and space.startswith(STRICT):
            raise NotAWorkbook("The file is a “Strict Open XML” workbook; save it as a plain XLSX workbook.")

    def _sheet(self, local: str, attributes: dict[str, str]) -> None:
        if local == "row":
            self._begin_row(attributes)
        elif local == "c":
            self._begin_cell(attributes.get("r", ""))
        elif local in {"v", "is", "f"} and self._in_cell:
            self._held(formula=local == "f")
        elif local == "col" and _yes(attributes.get("hidden")):
            self._hide(int(attributes.get("min", "")), int(attributes.get("max", "")))
        elif local == "mergeCell" and len(self.shape.merged) < KEPT:
            self.shape.merged.append(attributes.get("ref", ""))

    def _hide(self, first: int, last: int) -> None:
        before = self.shape.hidden_columns[-1][1] if self.shape.hidden_columns else 0
        if not before < first <= last:
            raise NotAWorkbook("The columns in the file are out of order; open it in a spreadsheet and save it anew.")
        self.shape.hidden_columns.append((first, last))

    def _begin_row(self, attributes: dict[str, str]) -> None:
        row = int(attributes.get("r") or self._row + 1)
        if row <= self._row:
            raise NotAWorkbook("The rows in the file are out of order; open it in a spreadsheet and save it anew.")
        self._row, self._column, self._hidden = row, 0, _yes(attributes.get("hidden"))

    def _begin_cell(self, place: str) -> None:
        row, column = place_of(place) if place else (self._row, self._column + 1)
        if row != self._row or column <= self._column:
            raise NotAWorkbook("The cells in the file are out of order; open it in a spreadsheet and save it anew.")
        self._column, self._in_cell = column, True

    def _held(self, *, formula: bool) -> None:
        shape = self.shape
        shape.last_row = self._row
        shape.last_column = max(shape.last_column, self._column)
        if self._hidden and (not shape.hidden_rows or shape.hidden_rows[-1] != self._row):
            shape.hidden_rows.append(self._row)
        if formula and len(shape.formulas) < KEPT:
            shape.formulas[self._row, self._column] = ""
            self._in_formula = True

    def _end(self, name: str) -> None:
        local = name.rpartition(" ")[2]
        self._in_cell = self._in_cell and local != "c"
        self._in_formula = self._in_formula and local != "f"

    def _text(self, text: str) -> None:
        if self._in_formula:
            place = (self._row, self._column)
            self.shape.formulas[place] = (self.shape.formulas[place] + text)[:60]


def _yes(attribute: str | None) -> bool:
    return attribute in {"1", "true"}


def place_of(written: str) -> tuple[int, int]:
    """Return row and column, from 1, of a cell written like AB12. Raises NotAWorkbook for what is none."""
    match = PLACE.fullmatch(written)
    if match is None:
        raise NotAWorkbook(f"The file names a cell “{written[:20]}” that cannot be; save it anew in a spreadsheet.")
    column = 0
    for letter in match[1]:
        column = column * 26 + ord(letter) - ord("A") + 1
    return int(match[2]), column
