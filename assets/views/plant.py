"""The plant by area, and the forms that register, change and retire areas and tags."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from assets import actions
from assets.forms.plant import AreaForm, PositionForm, SureForm, initial_of
from assets.lists import asked_of, file_of
from assets.permissions import READERS, SUPERVISORS, Desk, area_for, for_roles, position_for
from assets.reads import plant as reads
from assets.reads.plant import FILTERS
from assets.views.form_page import FormPage, answered, posted


def plant_path() -> str:
    """Return the address of the plant."""
    return reverse("assets:plant")


def tag_path(code: str) -> str:
    """Return the address of the page of a tag."""
    return reverse("tag", kwargs={"code": code})


@require_safe
@for_roles(READERS)
def plant(request: HttpRequest, desk: Desk) -> HttpResponse:
    """The plant in walking order: which tags, in which area, with which word in it."""
    areas = reads.areas_of(desk)
    asked = asked_of(request, show=FILTERS, area=areas.words, find=None)
    rows = reads.plant_of(desk, asked["show"], asked["area"], asked.finds("tag", "service", "fittings__asset__serial"))
    if asked.file:
        return file_of(asked, desk, "plant", reads.COLUMNS, reads.plant_cells(rows))
    shown, pager = asked.cut(rows)
    # An area without a tag belongs to the whole list, and to its own; both are where a tag is added.
    whole = not asked["show"] and not asked["find"] and not pager.after_url
    empty = [one for one in areas.empty if asked["area"] in {"", str(one.pk)}] if whole else []
    first = ("", "measures", "moves", "reported")
    context = {
        "title": "" if not asked["show"] else FILTERS[asked["show"]],
        "areas": reads.by_area(shown, empty),
        "pager": pager,
        "links": asked.links("show", only=first),
        "rest": asked.links("show", only=[word for word in FILTERS if word not in first]),
        "where": asked.links("area"),
        "finder": asked.finder("Tag, service or serial"),
        "narrowed": asked["show"] not in first or asked["area"],
        "is_new": not asked.is_filtered and pager.total == "0",
        "may_keep": desk.may(SUPERVISORS),
    }
    return render(request, "assets/plant.html", context)


@for_roles(SUPERVISORS)
def area_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Register an area."""
    form = AreaForm(posted(request))

    def do() -> str:
        typed = form.cleaned_data
        actions.register_area(site=desk.site, name=typed["name"], walk_order=typed["walk_order"], by=desk.person)
        return plant_path()

    page = FormPage(
        form=form,
        title="Register an area",
        refused="The area was not registered",
        button="Register this area",
        back=plant_path(),
        back_word="The plant",
        verb="area.registered",
        subject=desk.site,
        do=do,
        intro="A part of the works that is walked in one go. Left empty, its place in the walk is the last.",
    )
    return answered(request, desk, page)


@for_roles(SUPERVISORS)
def area_edit(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Rename an area or move it in the walk."""
    area = area_for(desk, pk)
    initial = {"name": area.name, "walk_order": area.walk_order, "version": area.version}
    form = AreaForm(posted(request), initial=initial)

    def do() -> str:
        typed = form.cleaned_data
        order = area.walk_order if typed["walk_order"] is None else typed["walk_order"]
        actions.change_area(area=area, name=typed["name"], walk_order=order, by=desk.person, version=typed["version"])
        return plant_path()

    page = FormPage(
        form=form,
        title=f"Change {area.name}",
        refused="The area was not changed",
        button="Save the area",
        back=plant_path(),
        back_word="The plant",
        verb="area.changed",
        subject=area,
        do=do,
        also=(("Retire this area", reverse("assets:area-retire", kwargs={"pk": pk})),),
    )
    return answered(request, desk, page)


@for_roles(SUPERVISORS)
def area_retire(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Take an area out of the walk."""
    area = area_for(desk, pk)
    form = SureForm(posted(request), initial={"version": area.version})

    def do() -> str:
        actions.retire_area(area=area, by=desk.person, version=form.cleaned_data["version"])
        return plant_path()

    page = FormPage(
        form=form,
        title=f"Retire {area.name}",
        refused="The area was not retired",
        button="Retire this area",
        back=plant_path(),
        back_word="The plant",
        verb="area.retired",
        subject=area,
        do=do,
        intro="It leaves the walk; its history stays. No tag may stand in it any more.",
    )
    return answered(request, desk, page)


@for_roles(SUPERVISORS)
def position_new(request: HttpRequest, desk: Desk) -> HttpResponse:
    """Register a tagged place."""
    form = PositionForm(posted(request), desk=desk, initial={"area": request.GET.get("area", "")})

    def do() -> str:
        position = actions.register_position(site=desk.site, facts=form.facts(), by=desk.person)
        return tag_path(position.label_code)

    page = FormPage(
        form=form,
        title="Register a tag",
        refused="The tag was not registered",
        button="Register this tag",
        back=plant_path(),
        back_word="The plant",
        verb="position.registered",
        subject=desk.site,
        do=do,
        intro="A place in the process that has a plate. What is fitted there is registered by itself.",
        also=(("Register an area first", reverse("assets:area-new")),),
    )
    return answered(request, desk, page)


@for_roles(SUPERVISORS)
def position_edit(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Change a tagged place."""
    position = position_for(desk, pk)
    form = PositionForm(posted(request), desk=desk, initial=initial_of(position))

    def do() -> str:
        version = form.cleaned_data["version"]
        actions.change_position(position=position, facts=form.facts(), by=desk.person, version=version)
        return tag_path(position.label_code)

    page = FormPage(
        form=form,
        title=f"Change {position.tag}",
        refused=f"{position.tag} was not changed",
        button="Save the tag",
        back=tag_path(position.label_code),
        back_word=position.tag,
        verb="position.changed",
        subject=position,
        do=do,
        intro="Records keep the tag they were made under; the code on the printed label stays.",
        also=((f"Retire {position.tag}", reverse("assets:position-retire", kwargs={"pk": pk})),),
    )
    return answered(request, desk, page)


@for_roles(SUPERVISORS)
def position_retire(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
    """Take a tagged place out of the plant."""
    position = position_for(desk, pk)
    form = SureForm(posted(request), initial={"version": position.version})

    def do() -> str:
        actions.retire_position(position=position, by=desk.person, version=form.cleaned_data["version"])
        return plant_path()

    page = FormPage(
        form=form,
        title=f"Retire {position.tag}",
        refused=f"{position.tag} was not retired",
        button=f"Retire {position.tag}",
        back=tag_path(position.label_code),
        back_word=position.tag,
        verb="position.retired",
        subject=position,
        do=do,
        intro="It leaves the walk and the lists; every record of it stays, and its tag may be given again. "
        "It is refused while an asset is fitted, a lock is on or another signal acts on it.",
    )
    return answered(request, desk, page)
