"""What a signature under a reading set covers, from the rows themselves: to sign it, and to compare it later."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from assets.compute.canonical import digest
from calibration.models import Answer, Check, Entry, Figure, Outcome, Point, ReadingSet


@dataclass(frozen=True, slots=True)
class Rows:
    """The rows of one set, stored or about to be."""

    set: ReadingSet
    points: tuple[Point, ...] = ()
    entries: tuple[Entry, ...] = ()
    answers: tuple[Answer, ...] = ()
    outcome: Outcome | None = None
    figures: tuple[Figure, ...] = ()


def digest_of(check: Check, rows: Rows) -> str:
    """Return the SHA-256 of everything that the signature of a set stands under."""
    return digest(_content(check, rows))


def _content(check: Check, rows: Rows) -> dict[str, Any]:
    of = rows.set
    return {
        "check": check.number,
        "site": check.site_id,
        "position": check.position_label,
        "asset": check.asset_label,
        "method": check.method,
        "replaces": check.replaces.number if check.replaces is not None else None,
        "replaces_because": check.replaces_because,
        "kind": of.kind,
        "performed_at": of.performed_at,
        "late_because": of.late_because,
        "lost_because": of.lost_because,
        "same_as_found": of.same_as_found,
        "points": [[point.number, point.role, point.lot_copy] for point in rows.points],
        "entries": sorted(_entries(rows.entries)),
        "answers": sorted([one.asked, one.sentence, one.choice, one.answer, one.reason] for one in rows.answers),
        "outcome": _outcome(rows.outcome, rows.figures),
    }


def _entries(entries: Iterable[Entry]) -> list[list[str]]:
    return [
        [str(one.point.number) if one.point is not None else "", one.quantity, one.text, one.unit] for one in entries
    ]


def _outcome(outcome: Outcome | None, figures: Iterable[Figure]) -> dict[str, Any] | None:
    if outcome is None:
        return None
    return {
        "valid": outcome.valid,
        "because": outcome.because,
        "verdict": outcome.verdict,
        "known": outcome.known,
        "judged": outcome.judged,
        "working": outcome.working,
        "advice": outcome.advice,
        "method_version": outcome.method_version,
        "libraries": outcome.libraries,
        "figures": sorted([one.name, one.exact, one.shown, one.unit] for one in figures),
    }


def stored_rows(of: ReadingSet) -> Rows:
    """Return the rows of a signed set as they stand in the database."""
    outcome: Outcome | None = getattr(of, "outcome", None)
    return Rows(
        set=of,
        points=tuple(of.points.all()),
        entries=tuple(of.entries.all()),
        answers=tuple(of.answers.all()),
        outcome=outcome,
        figures=tuple(outcome.figures.all()) if outcome is not None else (),
    )
