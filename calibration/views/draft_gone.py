"""What is answered to a form whose draft is not open any more: what was typed in it, so that it can be copied."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import wraps

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from assets.permissions import Desk
from calibration.compute.methods import ALL
from calibration.compute.typed import fields_for
from calibration.forms.draft import LATE
from calibration.reads.own_fields import own_fields

NOT_HERE = 404
DraftView = Callable[[HttpRequest, Desk, int], HttpResponse]


def shows_what_was_sent(view: DraftView) -> DraftView:
    """Wrap a view of a draft: where a form is sent and its draft is not there, nothing of what was typed is lost."""

    @wraps(view)
    def entered(request: HttpRequest, desk: Desk, pk: int) -> HttpResponse:
        try:
            return view(request, desk, pk)
        except Http404:
            if request.method != "POST":
                raise
        context = {"sent": tuple(sent_lines(request.POST))}
        return render(request, "calibration/draft_gone.html", context, status=NOT_HERE)

    return entered


def sent_lines(sent: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Give each field of a check that was sent with something in it, with its label, in the order of the page."""
    every = [
        one
        for method in ALL
        for stage in method.stages
        for one in (*fields_for(method, stage), *own_fields(method, stage))
    ]
    # Which method it was is gone with the draft: the first that has a field of this name says what it is called.
    labels = {one.name: one.label for one in reversed(every) if one.name in sent}
    labels = {one.name: labels[one.name] for one in every if one.name in labels} | dict.fromkeys(LATE, "Entered late")
    for name, label in labels.items():
        text = str(sent.get(name, "")).strip()
        if text:
            yield label, f"{'−' if sent.get(f'{name}_sign') == 'minus' else ''}{text}"
