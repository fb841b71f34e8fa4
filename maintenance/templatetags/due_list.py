"""The two tables of the due list, written by Python: a template took half the time of the page for the same text.

Whatever a person wrote goes through `escape` here, as it would by itself in a template.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from html import escape

from django import template
from django.utils.safestring import SafeString, mark_safe

from assets.models import MattersFor
from assets.templatetags.look import day, tally
from maintenance.compute.schedule import NEVER
from maintenance.reads.due import Visit
from maintenance.reads.due_rows import DueRow, LastDone
from maintenance.reads.due_words import Shown

register = template.Library()

MATTERS = {word: tally(word) for word in MattersFor.values}

WHY = {
    "no record": " No record of it",
    "before use": " Before use",
    "read the meter": " Read the meter",
    "outside its limits": " Seen outside its limits",
}


@register.simple_tag
def due_table(visits: Iterable[Visit], *, may_raise: bool, may_work: bool) -> SafeString:
    """Draw due items by visit; who may work is led to the work, who may raise orders chooses."""
    columns = ("Tag", "What", "State", "Matters for", "What rests on it, last done", "Hours")
    wide = len(columns) + may_raise
    bodies = "".join(
        f'<tbody role="rowgroup"><tr role="row" class="grp"><th colspan="{wide}" role="rowheader" scope="rowgroup">'
        f"{escape(visit.said)}</th></tr>\n"
        + "".join(_row(row, may_raise=may_raise, may_work=may_work) for row in visit.rows)
        + "</tbody>"
        for visit in visits
    )
    choose = '<th scope="col" role="columnheader" class="noprint">Choose</th>' if may_raise else ""
    return _safe(_table("tight", "Due items, by visit", columns, choose) + bodies + "</table>")


@register.simple_tag
def blocked_table(rows: Iterable[DueRow]) -> SafeString:
    """Draw what something stops, each with its reason."""
    columns = ("Tag", "What", "State", "Why", "Was due", "Matters for")
    body = "".join(
        f'<tr role="row">{_tag(row)}{_what(row, row.url)}{_cell("State", _state(row.state))}'
        f"{_cell('Why', escape(row.because[:1].upper() + row.because[1:]))}"
        f"{_cell('Was due', f'was due {day(row.due)}')}{_cell('Matters for', MATTERS[row.matters])}</tr>\n"
        for row in rows
    )
    return _safe(_table("tight held", "Blocked", columns) + f'<tbody role="rowgroup">{body}</tbody></table>')


def _safe(drawn: str) -> SafeString:
    return mark_safe(drawn)  # noqa: S308  Every text in it went through escape.


def _table(looks: str, caption: str, columns: Iterable[str], more: str = "") -> str:
    heads = "".join(
        f'<th scope="col" role="columnheader"{" class=r" if name == "Hours" else ""}>{name}</th>' for name in columns
    )
    return (
        f'<table class="cards {looks}" role="table"><caption class="unseen">{caption}</caption>'
        f'<thead role="rowgroup"><tr role="row">{heads}{more}</tr></thead>\n'
    )


def _row(row: DueRow, *, may_raise: bool, may_work: bool) -> str:
    begins = row.asked_now and may_work
    cells = (
        _tag(row),
        _what(row, row.do_url if begins else row.url),
        _cell("State", f'{_state(row.state)}<span class="small soft">{_when(row)}</span>'),
        _cell("Matters for", MATTERS[row.matters]),
        f'<td role="cell" class="full">{escape(row.rests_on_it)} {_last_done(row.last)}',
        f"{_ways(row, begins=begins)}</td>",
        f'<td role="cell" class="r" data-label="Hours"><div>{row.hours}</div></td>',
        _choice(row) if may_raise else "",
    )
    return f'<tr role="row">{"".join(cells)}</tr>\n'


def _cell(label: str, drawn: str) -> str:
    return f'<td role="cell" data-label="{label}"><div>{drawn}</div></td>'


def _tag(row: DueRow) -> str:
    tag = escape(row.tag)
    looks = "plate machine" if row.machine else "plate"
    drawn = f'<a class="{looks}" href="{escape(row.tag_url)}">{tag}</a>' if row.tag_url else f"<b>{tag}</b>"
    return f'<th scope="row" role="rowheader">{drawn}</th>'


def _what(row: DueRow, url: str) -> str:
    return f'<td role="cell"><a class="go" href="{url}"><b>{escape(row.what)}</b></a></td>'


def _state(shown: Shown) -> str:
    ink = f" {shown.ink}" if shown.ink else ""
    return f'<span class="is is-{shown.shape}{ink}">{escape(shown.word)}</span>'


def _when(row: DueRow) -> str:
    said = WHY.get(row.why, "")
    if row.state.shape == "lateok":
        said += _on("Until", row.latest)
    elif row.late or (row.state.shape != "due" and row.due < NEVER):
        said += _on("Due", row.due)
    return f"{said} {escape(row.by_use)}" if row.by_use else said


def _on(word: str, when: dt.date) -> str:
    return f' <span class="nb">{word} {day(when)}</span>'


def _last_done(last: LastDone) -> str:
    done = f"Last done {day(last.done_on)}." if last.done_on else "Never done."
    return f"{done} <b>{day(last.failed_on)}: {escape(last.because)}.</b>" if last.failed_on else done


def _ways(row: DueRow, *, begins: bool) -> str:
    said = f" <b>Cannot start, because {escape(row.because)}.</b>" if row.because and row.asked_now else ""
    if not begins:
        return said
    what, tag = escape(row.what), escape(row.tag)
    said += f' <a class="noprint" href="{row.url}">Routine<span class="unseen"> {what}, {tag}</span></a>'
    if row.may_defer:
        said += f' <a class="noprint" href="{row.later_url}">Put it off<span class="unseen">: {what}, {tag}</span></a>'
    return said


def _choice(row: DueRow) -> str:
    key, named = f"c{row.pk}", f"Choose {escape(row.tag)}, {escape(row.what)}"
    box = f'<input id="{key}" type="checkbox" name="line" value="{row.pk}">'
    return (
        f'<td role="cell" class="box noprint"><label class="choose" for="{key}">{box}'
        f'<span class="unseen">{named}</span></label></td>'
    )
