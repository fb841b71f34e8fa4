"""Taking in a register from a file and giving it out as one."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET

from assets import actions, reads
from assets.actions import Looked
from assets.compute.register_cells import write_sheet
from assets.compute.register_workbook import write_workbook
from assets.errors import Refusal
from assets.filing import XLSX
from assets.forms.register import LookForm, TakeForm, carried
from assets.permissions import READERS, SUPERVISORS, Desk, for_roles
from assets.views.form_page import posted

WHY = "what is wrong"


@require_GET
@for_roles(READERS)
def export(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Give the register as a file; taken in again, every row of it is the same."""
    return _csv(reads.register_text(desk.site, today=desk.today), _name(desk))


@require_GET
@for_roles(READERS)
def export_xlsx(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Give the same as a spreadsheet, every cell as text."""
    return _file(reads.register_workbook(desk.site, today=desk.today), XLSX, f"{_name(desk)}.xlsx")


def _name(desk: Desk) -> str:
    return f"register {desk.today.isoformat()}"


def _csv(text: str, name: str) -> HttpResponse:
    # The byte order mark tells spreadsheets that the file is UTF-8.
    return _file(text.encode("utf-8-sig"), "text/csv; charset=utf-8", f"{name}.csv")


def _file(content: bytes, kind: str, name: str) -> HttpResponse:
    answer = HttpResponse(content, content_type=kind)
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@for_roles(SUPERVISORS)
def take_in(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Look through a file first; take it when no row of it is faulty."""
    do = request.POST.get("do", "") if request.method == "POST" else ""
    if do in {"take", "faults"}:
        return _sent_again(request, desk, do)
    form = LookForm(posted(request), request.FILES if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data["file"]
        try:
            return _looked(request, desk, name=str(given.name), content=given.read())
        except Refusal as refusal:
            form.add_error("file", str(refusal))
    return render(request, "assets/import.html", {"form": form}, status=422 if form.errors else 200)


def _looked(
    request: HttpRequest, desk: Desk, *, name: str, content: bytes, form: TakeForm | None = None
) -> HttpResponse:
    """Show what each row would do; its content goes along, so that nothing lies about between the two steps."""
    looked = actions.look_through(site=desk.site, content=content)
    hashes = {"file_hash": looked.file_hash, "register_hash": looked.register_hash}
    fresh = TakeForm(initial={"name": name[:200], "content": carried(content), **hashes})
    by_row: dict[int, list[str]] = {}
    for fault in looked.faults:
        by_row.setdefault(fault.row, []).append(fault.column)
    context = {
        "looked": looked,
        "name": name,
        "take": fresh,
        "refused": form,
        "faulty_rows": len(by_row),
        "counts": {state: looked.count(state) for state in ("added", "changed", "same")},
        "measuring": sum(step.row["does"] == "measures" for step in looked.steps),
    }
    return render(request, "assets/import_looked.html", context, status=422 if looked.faults or form else 200)


def _sent_again(request: HttpRequest, desk: Desk, do: str) -> HttpResponse:
    form = TakeForm(request.POST)
    if not form.is_valid():
        messages.error(request, "The page was incomplete. Choose the file again; nothing was taken.")
        return redirect("assets:import")
    typed = form.cleaned_data
    if do == "faults":
        return _to_mend(actions.look_through(site=desk.site, content=typed["content"]))

    def take() -> str:
        names = ("content", "file_hash", "register_hash", "name")
        actions.take_register(site=desk.site, by=desk.person, **{name: typed[name] for name in names})
        return reverse("assets:plant")

    answer = form.sent(desk, verb="register.taken in", subject=desk.site, do=take)
    if answer is not None:
        messages.success(request, f"{typed['name'] or 'The file'} was taken in.")
        return redirect(answer)
    return _looked(request, desk, name=typed["name"], content=typed["content"], form=form)


def _to_mend(looked: Looked) -> HttpResponse:
    """Give the faulty rows as a file of the kind that was sent."""
    columns, rows = faulty_rows(looked)
    if looked.title:
        return _file(write_workbook(rows, columns=columns), XLSX, "rows to mend.xlsx")
    return _csv(write_sheet(rows, columns=columns), "rows to mend")


def faulty_rows(looked: Looked) -> tuple[list[str], list[dict[str, str]]]:
    """Return columns and faulty rows, as they were, with a column that says what is wrong with each."""
    wrong: dict[int, list[str]] = {}
    for fault in looked.faults:
        wrong.setdefault(fault.row, []).append(f"{fault.column}: {fault.what} {fault.right}".lstrip(": "))
    heading = looked.sheet.heading
    rows = [
        {**dict(zip(heading, looked.sheet.raw.get(number, []), strict=False)), WHY: " | ".join(sentences)}
        for number, sentences in sorted(wrong.items())
    ]
    return [*heading, WHY], rows
