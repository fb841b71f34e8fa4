"""Fitting and taking out, uses of a signal, limits and readings of one tag."""

from __future__ import annotations

from collections.abc import Iterator

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from assets import actions
from assets.compute.numbers import kept_number, read_number
from assets.compute.rounding import as_typed
from assets.compute.units import convert
from assets.forms.plant import ExchangeForm, FitForm, SureForm
from assets.forms.signals import LimitEndForm, LimitForm, ReadingForm, UseForm
from assets.models import Face, Fitting, Limit, Position, Reading
from assets.permissions import (
    OPERATORS,
    SUPERVISORS,
    Desk,
    for_roles,
    limit_for,
    position_for,
    reading_for,
    use_for,
)
from assets.templatetags.look import moment
from assets.views.form_page import FormPage, answered, posted
from assets.views.plant import tag_path


@for_roles(OPERATORS)
def fit(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Fit an asset at a tag; where one is fitted, exchange it or take it out."""
    position = position_for(desk, pk)
    here = Fitting.objects.filter(position=position).now().select_related("asset").first()
    initial = {"asset": request.GET.get("asset", "")}
    form = (ExchangeForm if here else FitForm)(posted(request), desk=desk, initial=initial)

    def do() -> str:
        typed = form.cleaned_data
        if typed.get("done") == "out":
            actions.take_out_asset(position=position, at=typed["at"], by=desk.person)
        else:
            done = actions.exchange_asset if here else actions.fit_asset
            done(position=position, asset=typed["asset"], at=typed["at"], by=desk.person)
        return tag_path(position.label_code)

    page = FormPage(
        form=form,
        title=f"{here.asset} at {position.tag}" if here else f"Fit an asset at {position.tag}",
        refused="The plant was not changed",
        button="Write it down",
        back=tag_path(position.label_code),
        back_word=position.tag,
        verb="asset.exchanged" if here else "asset.fitted",
        subject=position,
        do=do,
        intro="What comes out and what goes in stand in one record. A lock that hangs here stays as it is.",
        also=(("It is not in the list: register it", f"{reverse('assets:asset-new')}?for={pk}"),)
        if desk.may(SUPERVISORS)
        else (),
    )
    return answered(request, desk, page)


@for_roles(SUPERVISORS)
def use_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Note what depends on a tag's signal."""
    position = position_for(desk, pk)
    form = UseForm(posted(request), desk=desk, position=position)

    def do() -> str:
        typed = form.cleaned_data
        actions.register_use(
            position=position, use=typed["use"], target=typed["target"], text=typed["text"], by=desk.person
        )
        return tag_path(position.label_code)

    page = FormPage(
        form=form,
        title=f"What depends on {position.tag}",
        refused="Nothing was noted",
        button="Note this use",
        back=tag_path(position.label_code),
        back_word=position.tag,
        verb="use.registered",
        subject=position,
        do=do,
        intro="While this signal is wrong, what it paces, permits and trips is wrong too.",
    )
    return answered(request, desk, page)


@for_roles(SUPERVISORS)
def use_end(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """End a use of a signal."""
    use = use_for(desk, pk)
    form = SureForm(posted(request))

    def do() -> str:
        actions.end_use(use=use, by=desk.person)
        return tag_path(use.position.label_code)

    page = FormPage(
        form=form,
        title=f"{use.position.tag} no longer {use.use} {use.on}",
        refused="The use was not ended",
        button="End this use",
        back=tag_path(use.position.label_code),
        back_word=use.position.tag,
        verb="use.ended",
        subject=use.position,
        do=do,
        intro="It ends now; that it was so until now stays on record.",
    )
    return answered(request, desk, page)


@for_roles(SUPERVISORS)
def limit_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Set a limit on what a tag reads."""
    position = position_for(desk, pk)
    initial = {"unit": position.unit}
    form = LimitForm(posted(request), desk=desk, position=position, initial=initial)

    def do() -> str:
        actions.set_limit(position=position, facts=form.facts(), by=desk.person)
        return tag_path(position.label_code)

    page = FormPage(
        form=form,
        title=f"A limit of {position.tag}",
        refused="The limit was not set",
        button="Set this limit",
        back=tag_path(position.label_code),
        back_word=position.tag,
        verb="limit.set",
        subject=position,
        do=do,
        intro="The newest limit of a name and side counts from its day on; older ones stay for what they ruled.",
    )
    return answered(request, desk, page)


@for_roles(SUPERVISORS)
def limit_end(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """End a limit from a day on."""
    limit: Limit = limit_for(desk, pk)
    form = LimitEndForm(posted(request))

    def do() -> str:
        typed = form.cleaned_data
        actions.end_limit(limit=limit, source=typed["source"], from_day=typed["from_day"], by=desk.person)
        return tag_path(limit.position.label_code)

    page = FormPage(
        form=form,
        title=f"End a limit of {limit.position.tag}",
        refused="The limit was not ended",
        button="End this limit",
        back=tag_path(limit.position.label_code),
        back_word=limit.position.tag,
        verb="limit.ended",
        subject=limit.position,
        do=do,
        intro=f"{limit}. It stays on record for what was read under it.",
    )
    return answered(request, desk, page)


@for_roles(OPERATORS)
def reading_new(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Write down a number read at a tag."""
    position = position_for(desk, pk)
    initial = {"what": position.quantity, "unit": position.unit}
    if request.GET.get("face") in Face.values:
        initial["face"] = request.GET["face"]
    form = ReadingForm(posted(request), desk=desk, unit=position.unit, last=_last(position), initial=initial)

    def do() -> str:
        row = actions.record_reading(of=position, facts=form.facts(), by=desk.person)
        _look_again(request, desk, row)
        return tag_path(position.label_code)

    page = FormPage(
        form=form,
        title=f"A reading of {position.tag}",
        refused="The reading was not written",
        button="Write this reading",
        back=tag_path(position.label_code),
        back_word=position.tag,
        verb="reading.recorded",
        subject=position,
        do=do,
    )
    return answered(request, desk, page)


@for_roles(OPERATORS)
def reading_correct(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Replace a reading by another one that names it."""
    reading = reading_for(desk, pk)
    of = reading.position or reading.asset
    assert of is not None
    back = tag_path(of.label_code) if isinstance(of, Position) else reverse("assets:asset", kwargs={"pk": of.pk})
    initial = {"what": reading.what, "unit": reading.unit, "face": reading.face}
    form = ReadingForm(posted(request), desk=desk, unit=reading.unit, last=_written(reading), initial=initial)

    def do() -> str:
        actions.correct_reading(reading=reading, facts=form.facts(), by=desk.person)
        return back

    page = FormPage(
        form=form,
        title=f"Correct a reading of {of}",
        refused="The reading was not corrected",
        button="Write the right reading",
        back=back,
        back_word=str(of),
        verb="reading.corrected",
        subject=of,
        do=do,
        intro="Both stay on record. Without a time, the new one has the time of the old.",
    )
    return answered(request, desk, page)


def _last(position: Position) -> str:
    last = Reading.objects.standing().filter(position=position).first()
    return _written(last) if last else ""


def _written(reading: Reading) -> str:
    return f"Last: {reading.entered} {reading.unit}, {moment(reading.taken_at)}"


def _look_again(request: HttpRequest, desk: Desk, row: Reading) -> None:
    """Ask for a second look where a reading does not meet a limit or its range; it is kept all the same."""
    position = row.position
    if position is None or row.what.casefold() != position.quantity.casefold():
        return
    read = f"{as_typed(row.entered)} {row.unit}"
    for said in (*_outside_range(position, row), *_beyond_limits(position, row, desk)):
        messages.warning(request, f"{read} is {said}. It is kept as read; look at the number once more.")


def _outside_range(position: Position, row: Reading) -> Iterator[str]:
    """Say that the tag cannot show such a number."""
    low, high = kept_number(position.range_low), kept_number(position.range_high)
    if low is None and high is None:
        return
    value = convert(read_number(row.entered, decimal_mark=","), row.unit, position.unit)
    if (low is not None and value < low) or (high is not None and value > high):
        ends = (("from", position.range_low), ("to", position.range_high))
        told = " ".join(f"{word} {as_typed(text)}" for word, text in ends if text)
        yield f"outside the range of {position.tag}, {told} {position.unit}"


def _beyond_limits(position: Position, row: Reading, desk: Desk) -> Iterator[str]:
    """Name each limit that a reading does not meet."""
    for limit in Limit.objects.filter(position=position).in_force(desk.today):
        shown = convert(read_number(row.entered, decimal_mark=","), row.unit, limit.unit)
        most = read_number(limit.value, decimal_mark=",")
        if (shown > most) if limit.side == "high" else (shown < most):
            word = "above" if limit.side == "high" else "below"
            yield f"{word} the limit {limit.name}, {limit.value} {limit.unit} ({limit.source})"
