"""Where the bytes of kept files lie: in the data folder, each under its hash, written through before a row names it.

A picture is drawn anew for show, smaller and without what a phone hides in it (place, time, maker); the original is
never sent to be looked at, only to be fetched.
"""

from __future__ import annotations

import hashlib
import io
import os
import secrets
from pathlib import Path

from django.conf import settings

LARGEST = 20 * 1024 * 1024
LARGEST_PICTURE = 60_000_000  # pixels; more than any phone makes, less than fills a small server's memory
SHOWN_EDGE = 1600
SHOWN_QUALITY = 82

PDF = "application/pdf"
TEXT = "text/plain"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_PICTURES = {"JPEG": "image/jpeg", "PNG": "image/png", "WEBP": "image/webp"}


class NotKept(ValueError):
    """Why a file is not taken, in one sentence."""


def folder() -> Path:
    """Return the folder that holds the files of this installation."""
    return Path(settings.DATA) / "files"


def place_of(sha256: str) -> Path:
    """Return where the bytes with this hash lie."""
    return folder() / sha256[:2] / sha256


def place_of_shown(sha256: str) -> Path:
    """Return where the picture drawn anew for show lies."""
    return folder() / "shown" / f"{sha256}.jpg"


def kind_of(data: bytes) -> str:
    """Return what a file is by its own bytes, whatever it is called. Raises NotKept with what would be right."""
    if not data:
        raise NotKept("This file is empty. Choose the file again.")
    if len(data) > LARGEST:
        raise NotKept(f"This file has {len(data) // 1024 // 1024} MB; at most 20 MB are kept. Send a smaller one.")
    if data.startswith(b"%PDF-"):
        return PDF
    if data.startswith(b"PK\x03\x04"):
        return _spreadsheet(data)
    picture = _picture(data)
    if picture:
        return picture
    try:
        words = data.decode("utf-8")
    except UnicodeDecodeError:
        words = "\0"
    if "\0" in words:
        raise NotKept("This is no JPEG, PNG or WebP picture, PDF, text or XLSX. Save it as one of these.")
    return TEXT


def _spreadsheet(data: bytes) -> str:
    import zipfile

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            if "xl/workbook.xml" in packed.namelist():
                return XLSX
    except zipfile.BadZipFile:
        pass
    raise NotKept("This packed file is no XLSX spreadsheet. Unpack it and send what is inside.")


def _picture(data: bytes) -> str:
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(io.BytesIO(data), formats=list(_PICTURES)) as picture:
            if picture.width * picture.height > LARGEST_PICTURE:
                raise NotKept("This picture has more than 60 million points. Send a smaller one.")
            return _PICTURES[str(picture.format)]
    except UnidentifiedImageError:
        return ""
    except (OSError, Image.DecompressionBombError) as wrong:
        raise NotKept("This picture is damaged or far too large. Take it again, or send a smaller one.") from wrong


def keep(data: bytes) -> str:
    """Write the bytes under their hash, through to the disk, and return the hash; the same bytes again change nothing.

    A crash before the row is written leaves bytes that no row names, which harms nothing.
    """
    sha256 = hashlib.sha256(data).hexdigest()
    _write(place_of(sha256), data)
    return sha256


def draw_for_show(data: bytes, sha256: str) -> None:
    """Draw a picture anew, no edge longer than 1,600 points, upright, without anything hidden in the original.

    Raises NotKept where the picture cannot be read to its end.
    """
    from PIL import Image, ImageOps

    try:
        with Image.open(io.BytesIO(data), formats=list(_PICTURES)) as picture:
            upright = ImageOps.exif_transpose(picture)
            upright.thumbnail((SHOWN_EDGE, SHOWN_EDGE))
            paper = Image.new("RGB", upright.size, "white")
            clear = upright.convert("RGBA")
            paper.paste(clear, mask=clear.getchannel("A"))
            drawn = io.BytesIO()
            paper.save(drawn, "JPEG", quality=SHOWN_QUALITY)
    except (OSError, ValueError, Image.DecompressionBombError) as wrong:
        raise NotKept("This picture is damaged: it ends before it is whole. Take it again.") from wrong
    _write(place_of_shown(sha256), drawn.getvalue())


def as_kept(sha256: str) -> bytes | None:
    """Return the bytes with this hash, or None where they are missing."""
    try:
        return place_of(sha256).read_bytes()
    except FileNotFoundError:
        return None


def _write(place: Path, data: bytes) -> None:
    if place.exists():
        return
    place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    beside = place.with_name(f"{place.name}.{secrets.token_hex(8)}.part")
    with open(os.open(beside, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(place)
    held = os.open(place.parent, os.O_RDONLY)
    try:
        os.fsync(held)
    finally:
        os.close(held)
