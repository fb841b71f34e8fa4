"""Words for how something failed: few enough for a phone, each list ends with *not known*.

After ISO 14224:2016, annex B: failure modes of pumps and instruments, tables B.2 (mechanism), B.3 (cause) and B.4
(detection), from memory in part and shortened to what a small plant tells apart.
"""

from __future__ import annotations

NOT_KNOWN = "not known"

_MACHINE = {
    "does not start": "Does not start",
    "does not stop": "Does not stop",
    "stops by itself": "Stops by itself",
    "leaks outside": "Leaks outside",
    "leaks inside": "Leaks inside",
    "low output": "Low output",
    "erratic output": "Erratic output",
    "vibration or noise": "Vibration or noise",
    "overheats": "Overheats",
    "plugged": "Plugged",
    "not on demand": "Does not work when asked",
}
_INSTRUMENT = {
    "reads wrong": "Reads wrong",
    "drifts": "Drifts",
    "no output": "No output",
    "erratic output": "Erratic output",
    "not on demand": "Does not work when asked",
    "plugged": "Plugged",
    "leaks outside": "Leaks outside",
}
_ENDS = {"other": "Other", NOT_KNOWN: "Not known"}

MODES: dict[str, str] = {**_MACHINE, **_INSTRUMENT, **_ENDS}
"""How a failure shows: every word that may be written."""

MECHANISMS: dict[str, str] = {
    "mechanical": "Mechanical: loose or stuck",
    "material": "Material: worn or broken",
    "instrument": "Instrument: signal, adjustment",
    "electrical": "Electrical",
    "external": "From outside",
    **_ENDS,
}
CAUSES: dict[str, str] = {
    "design": "Design",
    "installation": "Making or fitting",
    "operation": "Operation or upkeep",
    "management": "Management",
    **_ENDS,
}
DETECTIONS: dict[str, str] = {
    "upkeep": "Routine upkeep",
    "functional test": "Test or calibration",
    "inspection": "Inspection",
    "monitoring": "Alarm or trend",
    "production": "Production suffered",
    "observation": "Somebody saw or heard it",
    "other repair": "Other repair",
    "on demand": "When it was needed",
    **_ENDS,
}


def modes_for(*, measures: bool) -> dict[str, str]:
    """Return the ways in which an instrument, or a machine, shows that it failed, in the order they are offered."""
    return {**(_INSTRUMENT if measures else _MACHINE), **_ENDS}
