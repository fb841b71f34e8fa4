"""Files kept byte for byte: what is taken and what is not, pictures drawn anew, and the pages that give them back."""

from __future__ import annotations

import hashlib
import io
import zipfile

import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image
from PIL.ExifTags import IFD, Base

from assets import filing
from assets.actions.files import read_file
from assets.errors import Refusal
from assets.models import Role
from tests.make import make_file, make_person, make_site, picture

# The marks at the head of a file: ISO 32000-1, 7.5.2 (PDF); APPNOTE.TXT 4.3.7 (ZIP).
PDF = b"%PDF-1.7\n%a page\n"


def photograph(*, turned: int = 6, size: tuple[int, int] = (2400, 1200)) -> bytes:
    """A JPEG as a phone makes it: with its place, and to be turned by what its EXIF says (CIPA DC-008, 274)."""
    exif = Image.Exif()
    exif[Base.Orientation] = turned
    exif.get_ifd(IFD.GPSInfo)[1] = "N"
    drawn = io.BytesIO()
    Image.new("RGB", size, "teal").save(drawn, "JPEG", exif=exif)
    return drawn.getvalue()


def spreadsheet() -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as file:
        file.writestr("xl/workbook.xml", "<workbook/>")
    return packed.getvalue()


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (picture(), "image/png"),
        (picture(kind="JPEG"), "image/jpeg"),
        (picture(kind="WEBP"), "image/webp"),
        (PDF, "application/pdf"),
        ("Glas beschlagen, 12,5 °C\n".encode(), "text/plain"),
        (spreadsheet(), filing.XLSX),
    ],
)
def test_a_file_is_what_its_own_bytes_say(data: bytes, kind: str) -> None:
    assert filing.kind_of(data) == kind


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "is empty"),
        (b"MZ\x90\x00\x03\x00\x00\x00", "no JPEG, PNG or WebP"),
        (b"PK\x03\x04 and no more", "no XLSX spreadsheet"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'>\x00</svg>", "no JPEG, PNG or WebP"),
        (b"x" * (filing.LARGEST + 1), "at most 20 MB"),
    ],
)
def test_what_is_not_taken_says_what_would_be_right(data: bytes, says: str) -> None:
    with pytest.raises(filing.NotKept, match=says):
        filing.kind_of(data)


def test_a_picture_cut_short_is_not_taken() -> None:
    with pytest.raises(Refusal) as refused:
        read_file(data=photograph()[:3000], name="cut.jpg", field="picture")
    assert [reason.field for reason in refused.value.reasons] == ["picture"]
    assert "Take it again" in str(refused.value)


def test_the_original_stays_and_the_picture_for_show_is_upright_small_and_bare() -> None:
    data = photograph()
    kept = read_file(data=data, name="C:\\camera\\glass\x00.jpg")
    assert kept.name == "glass.jpg"
    assert kept.sha256 == hashlib.sha256(data).hexdigest()
    assert filing.as_kept(kept.sha256) == data
    with Image.open(filing.place_of_shown(kept.sha256)) as shown:
        assert shown.size == (800, 1600), "turned by a quarter, its longer edge 1,600 points"
        assert dict(shown.getexif()) == {}
    assert (filing.place_of(kept.sha256).stat().st_mode & 0o777) == 0o600


def test_the_same_file_twice_is_kept_once() -> None:
    first, second = (read_file(data=PDF, name=name) for name in ("a.pdf", "b.pdf"))
    assert first.sha256 == second.sha256
    assert [path.name for path in filing.place_of(first.sha256).parent.glob("*.part")] == []


@pytest.mark.django_db
def test_a_file_is_given_back_byte_for_byte_to_be_saved_and_a_picture_is_shown_anew(client: Client) -> None:
    site = make_site()
    ines = make_person(site=site)
    client.force_login(ines, backend="django.contrib.auth.backends.ModelBackend")
    data = photograph()
    file = make_file(site=site, by=ines, data=data, name="Glas “alt”.jpg")
    answer = client.get(file.get_absolute_url())
    assert answer.content == data
    assert answer["Content-Type"] == "application/octet-stream"
    assert answer["Content-Disposition"].startswith("attachment")
    assert answer["X-Content-Type-Options"] == "nosniff"
    shown = client.get(reverse("assets:file-shown", args=[file.pk]))
    assert shown["Content-Type"] == "image/jpeg"
    assert shown.content != data
    text = make_file(site=site, by=ines, data=b"<script>alert(1)</script>", name="note.html")
    assert client.get(text.get_absolute_url())["Content-Type"] == "application/octet-stream"
    assert client.get(reverse("assets:file-shown", args=[text.pk])).status_code == 404


@pytest.mark.django_db
def test_a_file_of_another_site_is_not_there(client: Client) -> None:
    site, other = make_site(), make_site(name="Elm Reach Works")
    stranger = make_person(site=other, role=Role.SUPERVISOR)
    file = make_file(site=site, by=make_person(site=site))
    client.force_login(stranger, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get(file.get_absolute_url()).status_code == 404
