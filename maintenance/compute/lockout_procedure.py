"""What a written energy procedure lacks before it may be approved. 29 CFR 1910.147 (c)(4)(ii), second-hand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assets.errors import Reason
from maintenance.compute.lockout import NONE_BECAUSE


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenLine:
    """One source of energy as written: its point ("" for none), safe state, relief and test."""

    number: int
    energy: str
    point: str = ""
    safe_state: str = ""
    relief: str = ""
    test: str = ""

    @property
    def stores_nothing(self) -> bool:
        """Whether the relief says that nothing is stored."""
        return self.relief.strip().casefold().startswith(NONE_BECAUSE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A revision as written."""

    purpose: str
    shutdown: str
    restore: str
    lines: Sequence[WrittenLine]


def gaps(written: Written) -> list[Reason]:
    """Say what is missing: purpose, shutdown, restoring; and of each source its point or relief, and its test."""
    reasons = [
        Reason(f"{label}: nothing is written.", field)
        for field, label, text in (
            ("purpose", "What it is for", written.purpose),
            ("shutdown", "How it is shut down", written.shutdown),
            ("restore", "How it is given back", written.restore),
        )
        if not text.strip()
    ]
    if not any(line.point for line in written.lines):
        reasons.append(Reason("No isolation point is named: energy has to be cut off somewhere."))
    return reasons + [reason for line in written.lines for reason in _gaps_of(line)]


def _gaps_of(line: WrittenLine) -> list[Reason]:
    name = f"Source {line.number}, {line.energy}"
    found = []
    if not line.point and (line.stores_nothing or not line.relief.strip()):
        found.append("has no isolation point and no relief; one of them makes it safe.")
    elif not line.relief.strip():
        found.append("does not say how stored energy is let off; write it, or “none, because …”.")
    elif line.stores_nothing and not line.relief.strip()[len(NONE_BECAUSE) :].strip(" .…"):
        found.append("says that nothing is stored and not because of what.")
    if line.point and not line.safe_state.strip():
        found.append(f"does not say which state of {line.point} is safe.")
    if not line.test.strip():
        found.append("has no test that shows its absence.")
    return [Reason(f"{name}: {what}") for what in found]
