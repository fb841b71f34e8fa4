"""The page on which a check is written: kept, worked out, signed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from assets.errors import Reason, Refusal, Stale
from assets.history import submit
from assets.inputs import TypedMoment
from assets.permissions import OPERATORS, Desk, for_roles
from assets.proofs import Proof, prove
from calibration.actions.drafts import discard_draft, keep_draft
from calibration.actions.sets import sign_set
from calibration.compute.figures import sentence_case
from calibration.compute.method import AnyMethod
from calibration.compute.methods import METHODS
from calibration.compute.typed import UNIT, Field
from calibration.forms.draft import SetForm, data_of
from calibration.models import Draft
from calibration.permissions import draft_for
from calibration.reads.answers import answer_given
from calibration.reads.choices import Worth, choices_of, worths
from calibration.reads.drafts import Beside, Catch, about, catches_of, differences, general
from calibration.reads.own_fields import is_test
from calibration.reads.sheet import Sheet, reasons_of, sheet_of
from calibration.reads.told import told_live
from calibration.reads.words import proves_words
from calibration.views.draft_gone import shows_what_was_sent

STALE = 409
REFUSED = 422


@dataclass(frozen=True, slots=True)
class Asked:
    """A field of the page with the sentences that stand at it."""

    bound: BoundField
    catches: tuple[Catch, ...]
    unit: BoundField | None = None
    wide: bool = False

    @property
    def wants(self) -> bool:
        """Whether it must be in sight: something is written in it, or more than a reminder stands at it."""
        return bool(self.bound.value()) or any(one.choices or one.shape != "asks" for one in self.catches)


@dataclass(frozen=True, slots=True)
class PointView:
    """One buffer on the page: its fields and what it is worth."""

    prefix: str
    legend: str
    asked: Mapping[str, Asked]
    worth: Worth
    filled: bool


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a set on the page: 'Grab 1', with its fields; folded where it need not be there and is empty."""

    legend: str
    prefix: str
    asked: tuple[Asked, ...]
    rare: tuple[Asked, ...]
    rare_open: bool
    folded: bool
    open: bool


@dataclass(frozen=True, slots=True)
class Part:
    """One part of the page of any method: its fields, its rows, and what is rare, folded away."""

    title: str
    asked: tuple[Asked, ...]
    rows: tuple[Row, ...]
    rare: tuple[Asked, ...]
    rare_open: bool
    reads: bool = False

    @property
    def more(self) -> tuple[Row, ...]:
        """The rows that need not be there, one after the other behind "one more"."""
        return tuple(row for row in self.rows if row.folded)


def parts_of(fields: Sequence[Field], asked: Mapping[str, Asked], method: AnyMethod, stage: str) -> tuple[Part, ...]:
    """Return the fields of a set as the page shows them: before, then the readings row by row, then as left."""
    own = {"hold_on_at", "hold_off_at", "hold_by", "hold_note", "next", "lost_because", "done", "cleaned_with"}
    titles = {"before": "Beforehand", "as left": "After the adjustment"}
    reading = "What you read" if is_test(method) else sentence_case(stage)
    parts = []
    for part in dict.fromkeys(one.ask.part for one in fields if one.name not in own):
        mine = [one for one in fields if one.ask.part == part and one.name not in own and one.name != "hold"]
        if not mine:
            continue
        rare = [one for one in mine if one.ask.rare and not one.row]
        parts.append(
            Part(
                title=titles.get(part, reading),
                asked=tuple(asked[one.name] for one in mine if not one.ask.rare and not one.row),
                rows=_rows(mine, asked, method),
                rare=tuple(asked[one.name] for one in rare),
                rare_open=any(asked[one.name].wants for one in rare),
                reads=part == "reading set",
            )
        )
    return tuple(parts)


def _rows(fields: Sequence[Field], asked: Mapping[str, Asked], method: AnyMethod) -> tuple[Row, ...]:
    rows: list[Row] = []
    for prefix in reversed(dict.fromkeys(one.row for one in fields if one.row)):
        mine = [one for one in fields if one.row == prefix]
        number, least = mine[0].point, mine[0].ask.times[0]
        legend = method.legends.get(mine[0].ask.each, mine[0].ask.each)
        rare = [asked[one.name] for one in mine if one.ask.rare]
        filled = any(asked[one.name].bound.value() for one in mine if one.ask.kind != "standard")
        later = bool(rows) and rows[0].open  # a row stands inside the one before it
        rows.insert(
            0,
            Row(
                legend=f"{legend} {number}" if number is not None else legend,
                prefix=prefix,
                asked=tuple(asked[one.name] for one in mine if not one.ask.rare),
                rare=tuple(rare),
                rare_open=any(one.wants for one in rare),
                folded=number is not None and number > max(least, 1),
                open=filled or later or any(asked[one.name].wants for one in mine),
            ),
        )
    return tuple(rows)


class Desktop:
    """Everything the page of a draft draws; `form` may hold what was just sent."""

    def __init__(self, draft: Draft, data: Mapping[str, Any] | None = None) -> None:
        self.draft = draft
        self.at = _read_at(draft)
        self.sheet = sheet_of(draft, at=self.at)
        day = self.at.astimezone(draft.site.zone).date()
        self.method = METHODS[draft.requirement.method]
        standards = list(self.sheet.known.standards.values()) if self.sheet is not None else []
        chosen = set(draft.typed.get("fields", {}).values())
        self.choices = choices_of(self.method, draft.requirement, day, standards, chosen=chosen)
        self.form = SetForm(data_of(draft) if data is None else data, draft=draft, standards=self.choices)
        # What cannot be read stands at its field already, as a question does; the notice on top only leads there.
        self.reasons = reasons_of(self.sheet.unread) if self.sheet is not None else []

    def context(self) -> dict[str, Any]:
        """Return what the page and its live parts are drawn from."""
        draft, sheet, form = self.draft, self.sheet, self.form
        catches = catches_of(sheet, draft) if sheet is not None else {}
        asked = {
            one.name: Asked(
                form[one.name],
                catches.get(one.name, ()),
                form[one.name + UNIT] if one.has_units else None,
                wide=one.ask.kind != "number" or one.ask.signed,
            )
            for one in form.asked
        }
        return {
            "method": self.method,
            "is_test": is_test(self.method),
            "proves": proves_words(self.method),
            "parts": parts_of(form.asked, asked, self.method, draft.stage) if not self.method.by_point else (),
            "draft": draft,
            "form": form,
            "reasons": self.reasons,
            "about": about(draft, self.at),
            "sheet": sheet,
            "told": self._told(sheet),
            "told_left": told_live(sheet.left, sheet.inputs, sheet.known, name="left")
            if sheet is not None and sheet.left is not None and not is_test(self.method)
            else None,
            "points": self._points(sheet, asked),
            "asked": asked,
            "general": general(catches, form.fields),
            "open_questions": len(sheet.result.unanswered) if sheet is not None and not sheet.lost else 0,
            "missing": len([one for one in sheet.in_the_way if one.weight == "refuse"]) if sheet is not None else 0,
            "beside": self._beside(),
            "position": draft.requirement.position,
        }

    def _told(self, sheet: Sheet | None) -> Any:
        return told_live(sheet.result, sheet.inputs, sheet.known) if sheet is not None else None

    def _points(self, sheet: Sheet | None, asked: Mapping[str, Asked]) -> tuple[PointView, ...]:
        if not self.method.by_point:
            return ()
        found: dict[str, Worth] = {}
        if sheet is not None:
            known = sheet.known
            found = {worth.prefix: worth for worth in worths(sheet.inputs, known.standards, known.day)}
        empty = Worth("", "", "", "", unfit=False)
        prefixes = [(f"point{number}_", f"Point {number}") for number in (1, 2, 3)]
        if self.draft.stage == "as left":
            prefixes.append(("third_", "Third buffer"))
        return tuple(_point(prefix, legend, found.get(prefix, empty), asked) for prefix, legend in prefixes)

    def _names(self) -> dict[str, str]:
        """Return what each standard that may be chosen is called, by its key."""
        return {key: text for groups in self.choices.values() for _, group in groups for key, text in group if key}

    def _beside(self) -> tuple[Beside, ...]:
        kept = self.draft.typed.get("beside")
        if not kept:
            return ()
        return self.differs_from(kept["fields"])

    def differs_from(self, fields: Mapping[str, str]) -> tuple[Beside, ...]:
        """Return what the boxes hold otherwise than these fields of another version."""
        labels = [(one.name, sentence_case(one.label)) for one in self.form.asked]
        return differences(labels, self.form.typed, fields, self._names())


def page_of(draft: Draft) -> str:
    """Return the template: a line through points has a page of its own, every other method the common one."""
    by_point = METHODS[draft.requirement.method].by_point
    return "calibration/draft_ph.html" if by_point else "calibration/draft.html"


def _point(prefix: str, legend: str, worth: Worth, asked: Mapping[str, Asked]) -> PointView:
    own = {name.removeprefix(prefix): one for name, one in asked.items() if name.startswith(prefix)}
    return PointView(prefix, legend, own, worth, filled=any(one.bound.value() for one in own.values()))


def _read_at(draft: Draft) -> dt.datetime:
    """Return when the set was read: as typed, else its first save, else now."""
    typed = draft.typed.get("fields", {}).get("earlier_at", "")
    try:
        moment = TypedMoment(required=False, zone=draft.site.zone).clean(typed)
    except ValidationError:
        moment = None
    return moment or draft.first_saved_at or timezone.now()


@require_http_methods(["GET", "POST"])
@for_roles(OPERATORS)
@shows_what_was_sent
def draft(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Write a reading set; sending it keeps what is typed and works it out."""
    row = draft_for(desk, pk)
    if request.method == "POST":
        try:
            _keep(row, request, desk)
        except Stale as stale:
            return _conflict(request, desk, row, stale)
        return redirect(row.get_absolute_url() + "#meaning")
    return render(request, page_of(row), Desktop(row).context())


def _keep(row: Draft, request: HttpRequest, desk: Desk) -> Draft:
    form = SetForm(request.POST, draft=row, standards={})
    return keep_draft(
        draft=row,
        fields=form.typed,
        answers=form.answers,
        version=form.version_shown,
        settles=form.cleaned_data.get("settles") == "yes",
        by=desk.person,
    )


def _conflict(request: HttpRequest, desk: Desk, row: Draft, stale: Stale) -> HttpResponse:
    """Show both versions: what was sent in the boxes, what was saved elsewhere beside each box that differs."""
    there = Draft.objects.filter(pk=row.pk).first()
    if there is None:
        page = Desktop(row, request.POST)
        page.form.refuse(stale)
        return render(request, page_of(row), page.context(), status=STALE)
    now = draft_for(desk, row.pk)
    sent = {**request.POST.dict(), "version": str(now.version), "settles": "yes"}
    page = Desktop(now, sent)
    context = page.context()
    context["beside"] = page.differs_from(now.typed.get("fields", {}))
    context["conflict"] = str(stale)
    return render(request, page_of(row), context, status=STALE)


@require_POST
@for_roles(OPERATORS)
def draft_work(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Keep what is typed and answer with the parts of the page that follow from it."""
    row = draft_for(desk, pk)
    try:
        kept = _keep(row, request, desk)
    except Stale as stale:
        return render(request, "calibration/_draft_conflict.html", {"conflict": str(stale)}, status=STALE)
    return render(request, "calibration/_draft_parts.html", Desktop(draft_for(desk, kept.pk)).context())


@require_POST
@for_roles(OPERATORS)
@shows_what_was_sent
def draft_sign(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Sign the set as it stands on the page; what stands in the way is said at its field and nothing typed is lost."""
    key = request.POST.get("key", "")
    answer = answer_given(desk.person, key)
    if answer:
        return redirect(answer)
    try:
        row = draft_for(desk, pk)
        row = _keep(row, request, desk)
        row = draft_for(desk, row.pk)
    except (Stale, Http404) as gone:
        # Its twin may have been signed since the first look.
        answer = answer_given(desk.person, key)
        if answer:
            return redirect(answer)
        if isinstance(gone, Http404):
            raise
        return _conflict(request, desk, row, gone)
    sent = {**request.POST.dict(), "version": str(row.version), "settles": ""}
    page = Desktop(row, sent)
    answer = _signed(page, desk, sent)
    if answer:
        return redirect(answer)
    return render(request, page_of(row), {**page.context(), "refused": True}, status=REFUSED)


def _signed(page: Desktop, desk: Desk, sent: Mapping[str, str]) -> str:
    """Sign, or put every reason on the form; returns the page of the signed check, or nothing."""
    form, row = page.form, page.draft
    if page.sheet is None:
        form.add_error(None, f"No limits are in force at {row.requirement.position.tag}. A supervisor sets them first.")
    else:
        at_field = {one.key for one in (*page.sheet.unread, *page.sheet.result.unanswered)}
        form.tell(one for one in page.sheet.in_the_way if one.key not in at_field)
        page.reasons = reasons_of(one for one in page.sheet.in_the_way if one.key in at_field)
    if form.errors or page.reasons:
        return ""
    try:
        proof = prove(desk.person, str(sent.get("proof", "")), site=desk.site)
        return submit(
            site=desk.site,
            by=desk.person,
            verb="check.signed",
            subject=row.requirement,
            key=str(sent.get("key", "")),
            do=lambda: _sign(row, desk, proof, form),
        )
    except Refusal as refusal:
        form.refuse(refusal)
        return ""


def _sign(row: Draft, desk: Desk, proof: Proof, form: SetForm) -> str:
    check = sign_set(
        draft=row,
        version=row.version,
        proof=proof,
        by=desk.person,
        earlier_at=form.cleaned_data.get("earlier_at"),
        earlier_because=form.cleaned_data.get("earlier_because", ""),
    )
    return check.get_absolute_url()


@require_POST
@for_roles(OPERATORS)
@shows_what_was_sent
def draft_discard(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Put a draft aside; what was typed goes into the history."""
    row = draft_for(desk, pk)
    if request.POST.get("version") != str(row.version):
        page = Desktop(row)
        page.form.refuse(Refusal([Reason("This draft was saved meanwhile; look at it before you put it aside.")]))
        return render(request, page_of(row), {**page.context(), "refused": True}, status=STALE)
    try:
        discard_draft(draft=row, by=desk.person)
    except Stale as stale:
        return _conflict(request, desk, row, stale)
    return redirect("calibration:checks")
