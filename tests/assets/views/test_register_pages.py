"""Taking in a register through its pages: looked through, mended from a file, taken once, refused when stale."""

from __future__ import annotations

import csv
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from assets.compute.register_workbook import write_workbook
from assets.compute.workbook import rows_in, workbook_of
from assets.models import Event, Position, Role
from tests.assets.signed_in import browser_of
from tests.make import make_area, make_person, make_site

pytestmark = pytest.mark.django_db
PATH = "/plant/import/"
HEAD = "tag,area,service,does,matters for,quantity,unit,limits\r\n"
GOOD = (
    HEAD + 'AIT-1,Filters,"pH, µ",measures,compliance,pH,pH,high 8.5 pH (permit)\r\nP-2,Filters,=1+1,moves,other,,,\r\n'
)
BAD = HEAD + "AIT-1,Filters,pH,measures,compliance,pH,pH,\r\nAIT-41O,Filters,=2,measures,compliance,pH,l/m,\r\n"


@pytest.fixture
def site(clock):
    return make_site()


@pytest.fixture
def client(site):
    return browser_of(make_person(site=site, role=Role.SUPERVISOR))


def look(client, text: str, *, name: str = "tags.csv", encoding: str = "utf-8-sig"):
    return client.post(PATH, {"file": SimpleUploadedFile(name, text.encode(encoding), "text/csv")})


def carried(answer) -> dict[str, str]:
    form = answer.context["take"]
    return {name: form[name].value() for name in ("key", "name", "content", "file_hash", "register_hash")}


def test_a_good_file_is_looked_through_and_taken_once(client) -> None:
    shown = look(client, GOOD)
    assert shown.status_code == 200
    text = shown.content.decode()
    assert "New areas: Filters" in text and "Take the file" in text and "tags.csv" in text
    assert Position.objects.count() == 0
    sent = {**carried(shown), "do": "take"}
    for _ in range(2):
        assert client.post(PATH, sent)["Location"] == "/plant/"
    assert Position.objects.count() == 2
    assert Event.objects.filter(verb="register.taken in").count() == 1
    assert "tags.csv was taken in" in client.get("/plant/").content.decode()


def test_the_origin_of_an_imported_tag_stands_in_its_history(client) -> None:
    client.post(PATH, {**carried(look(client, GOOD)), "do": "take"})
    text = client.get(f"/history/assets.position/{Position.objects.get(tag='P-2').pk}/").content.decode()
    assert "History of P-2" in text and "Register taken in" in text and "tags.csv" in text


def test_a_faulty_file_is_told_row_by_row_and_comes_back_with_the_reasons(client) -> None:
    shown = look(client, BAD)
    assert shown.status_code == 422
    text = shown.content.decode()
    assert "mend 1 row in the file" in text and "Take the file" not in text
    assert "letter where a digit belongs" in text and "Did you mean L/min" in text
    assert Position.objects.count() == 0
    file = client.post(PATH, {**carried(shown), "do": "faults"})
    assert file["Content-Disposition"].startswith("attachment")
    [row] = csv.DictReader(io.StringIO(file.content.decode("utf-8-sig"), newline=""))
    assert (row["tag"], row["service"]) == ("AIT-41O", "'=2")
    assert "letter where a digit belongs" in row["what is wrong"] and "L/min" in row["what is wrong"]
    refused = client.post(PATH, {**carried(shown), "do": "take"})
    assert refused.status_code == 422 and "The file was not taken" in refused.content.decode()
    assert Position.objects.count() == 0


def test_a_register_changed_meanwhile_is_told_and_the_file_is_kept(client, site) -> None:
    first, second = look(client, GOOD), look(client, GOOD.replace("P-2", "P-3"))
    assert client.post(PATH, {**carried(first), "do": "take"}).status_code == 302
    answer = client.post(PATH, {**carried(second), "do": "take"})
    assert answer.status_code == 422
    assert "register was changed since" in answer.content.decode()
    assert client.post(PATH, {**carried(answer), "do": "take"}).status_code == 302
    assert set(Position.objects.values_list("tag", flat=True)) == {"AIT-1", "P-2", "P-3"}


def test_another_content_under_the_same_hash_is_refused(client) -> None:
    one, other = carried(look(client, GOOD)), carried(look(client, GOOD.replace("P-2", "P-3")))
    answer = client.post(PATH, {**one, "content": other["content"], "do": "take"})
    assert answer.status_code == 422 and "not the one that was looked through" in answer.content.decode()
    assert Position.objects.count() == 0


@pytest.mark.parametrize(
    ("file", "words"),
    [
        ({"text": "tag;µ", "encoding": "latin-1"}, "not in UTF-8"),
        ({"text": "PK\0\0"}, "no table of text"),
        ({"text": "PK\x03\x04\0", "encoding": "ascii"}, "no spreadsheet of the kind XLSX"),
        ({"text": ""}, "The file is empty"),
        ({"text": "x" * 1_000_001}, "larger than 1000 kB"),
    ],
)
def test_a_file_that_is_no_register_is_refused_in_a_sentence(client, file, words) -> None:
    answer = look(client, **file)
    assert answer.status_code == 422 and words in answer.content.decode()


def test_no_file_and_torn_pages_are_told(client) -> None:
    assert "Choose the file first" in client.post(PATH, {"do": "look"}).content.decode()
    for torn in ({"do": "take"}, {**carried(look(client, GOOD)), "content": "§§", "do": "take"}):
        assert client.post(PATH, torn)["Location"] == PATH
        assert "page was incomplete" in client.get(PATH).content.decode()


def test_the_export_comes_back_as_the_same(client, site) -> None:
    client.post(PATH, {**carried(look(client, GOOD)), "do": "take"})
    out = client.get("/plant/export.csv")
    assert out["Content-Type"].startswith("text/csv") and "register 2026-11-25.csv" in out["Content-Disposition"]
    assert out.content.startswith(b"\xef\xbb\xbftag,area")
    again = client.post(PATH, {"file": SimpleUploadedFile("out.csv", out.content, "text/csv")})
    assert {step.state for step in again.context["looked"].steps} == {"same"}
    assert client.post("/plant/export.csv").status_code == 405


def test_a_spreadsheet_goes_the_same_way_and_comes_back_as_one(client, site) -> None:
    assert "XLSX" in client.get(PATH).content.decode()
    rows = list(csv.DictReader(io.StringIO(BAD, newline="")))
    shown = client.post(PATH, {"file": SimpleUploadedFile("tags.xlsx", write_workbook(rows))})
    assert shown.status_code == 422 and "tags.xlsx, sheet Register" in shown.content.decode()
    file = client.post(PATH, {**carried(shown), "do": "faults"})
    assert "rows to mend.xlsx" in file["Content-Disposition"]
    heading, row = rows_in(file.content)
    assert dict(zip(heading, row, strict=True))["what is wrong"].count("Write") >= 1
    two = workbook_of({"Notes": [["x"]], "Register": [list(rows[0]), list(rows[0].values())]})
    shown = client.post(PATH, {"file": SimpleUploadedFile("tags.xlsx", two)})
    assert shown.status_code == 200 and "not read: Notes" in shown.content.decode()
    assert client.post(PATH, {**carried(shown), "do": "take"})["Location"] == "/plant/"
    assert [one.tag for one in Position.objects.all()] == ["AIT-1"]
    out = client.get("/plant/export.xlsx")
    assert "register 2026-11-25.xlsx" in out["Content-Disposition"]
    again = client.post(PATH, {"file": SimpleUploadedFile("out.xlsx", out.content)})
    assert {step.state for step in again.context["looked"].steps} == {"same"}


def test_a_semicolon_file_is_read_too(client, site) -> None:
    make_area(site=site, name="Filters")
    shown = look(client, "tag;area;service;does;matters for\nP-2;filters;Pump, 2;moves;other\n")
    assert shown.status_code == 200 and not shown.context["looked"].new_areas
