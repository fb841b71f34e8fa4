"""What the hill tank holds at each level: first by its drawing, then by a survey."""

from __future__ import annotations

from maintenance.actions.walks_strapping import TableTyped, write_strapping
from spanwell.demo import cast
from spanwell.demo.plant import FIRST_DAY, Plant

SURVEYED = 118
"""Days back since when the survey's table counts."""

# Inside it is round, 12.6 m across by the drawing, and its floor falls to the sump in the lowest 40 cm.
BY_DRAWING = """\
0.00 0
0.40 31
1.00 106
2.00 231
3.00 355
4.00 480
5.00 605
6.00 729"""
# The lining of the walls takes 2 cm all round; the floor was levelled where it is shallowest.
BY_SURVEY = """\
0.20 9.4
0.40 29.6
1.00 103.9
2.00 227.8
3.00 351.7
4.00 475.5
5.00 599.4
5.60 673.6"""


def measure_tanks(plant: Plant) -> None:
    """Write the table of the drawing on the first day, and the one that took its place."""
    add, at = plant.script.add, plant.days.at
    drawing, survey = "drawing KH-14 of the tank, 1988", "survey of the emptied tank, laser at 24 points, report KH-S7"
    add(at(FIRST_DAY, "15:20"), _write, plant, BY_DRAWING, drawing, "the tank is round, but its floor is not flat", "")
    why = "the walls were lined and the floor levelled; the drawing no longer holds"
    add(at(SURVEYED, "16:20"), _write, plant, BY_SURVEY, survey, why, "0.6")


def _write(plant: Plant, rows: str, source: str, why: str, share: str) -> None:
    typed = TableTyped(
        position=plant.tag("LIT-601"),
        what="level",
        level_unit="m",
        volume_unit="m³",
        rows=rows,
        source=source,
        why=why,
        from_day=plant.day,
        share=share,
    )
    write_strapping(site=plant.site, typed=typed, by=plant.person(cast.RUTH))
