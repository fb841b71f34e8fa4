"""What any method describes of itself, so that a form, a record and an export can be built from it."""

from __future__ import annotations

import ast
from dataclasses import FrozenInstanceError, replace
from fractions import Fraction
from pathlib import Path

import pytest

from calibration.compute.method import AnyMethod, Band, Known, band_for
from calibration.compute.methods import METHODS, ph

COMPUTE = Path(__file__).parents[3] / "calibration" / "compute"


@pytest.mark.parametrize("method", METHODS.values(), ids=METHODS)
def test_a_method_describes_a_version_and_its_cautions(method: AnyMethod) -> None:
    assert method.version.count(".") == 1
    assert method.cautions


def test_names_of_fields_are_unique_and_in_the_order_asked() -> None:
    names = [one.name for one in ph.fields_for("as left", points=3)]
    assert len(names) == len(set(names))
    assert names[:3] == ["hold", "process_shown", "process_temperature"]
    assert (
        names.index("point1_lot") < names.index("point1_steady") < names.index("point2_lot") < names.index("third_lot")
    )


def test_as_found_asks_nothing_that_is_only_known_after_adjusting() -> None:
    names = {one.name for one in ph.fields_for("as found")}
    assert {"point1_shown", "point2_shown"} <= names
    assert not {name for name in names if name.startswith(("third_", "own_", "point3_"))}


def test_labels_say_which_point() -> None:
    labels = {one.name: one.label for one in ph.fields_for("as left")}
    assert labels["point2_temperature"] == "Point 2, temperature of the buffer"
    assert labels["third_lot"] == "Third buffer, lot of the buffer"
    assert labels["process_shown"] == "Display in the process, before"


def test_the_site_may_set_its_own_limit(known: Known) -> None:
    own = Band(low=Fraction("-0.2"), high=Fraction("0.2"), unit="pH", source="permit", tag="site setting")
    assert band_for(ph.METHOD.limits, replace(known, limits={"error": own}), "error") == own
    assert band_for(ph.METHOD.limits, known, "error").high == Fraction("0.10")
    with pytest.raises(LookupError, match="no limit named wobble"):
        band_for(ph.METHOD.limits, known, "wobble")


def test_a_limit_may_depend_on_the_standard(known: Known) -> None:
    tenth = replace(ph.METHOD.limits[0], high=lambda known, standard: standard / 10)
    assert band_for((tenth,), known, "error", standard=Fraction(5)).high == Fraction(1, 2)


def test_a_description_cannot_be_changed() -> None:
    with pytest.raises(FrozenInstanceError):
        ph.describe().version = "2.0"  # type: ignore[misc]


def test_figures_are_kept_as_text_that_loses_nothing(known: Known) -> None:
    typed = {"point1_lot": "7", "point1_temperature": "12.4", "point1_shown": "7.08"}
    figures = {one.name: one for one in ph.work(ph.read(typed, kind="as found"), known).figures}
    assert Fraction(figures["true_1"].exact) == Fraction("7.04796")


@pytest.mark.parametrize("path", sorted(COMPUTE.rglob("*.py")), ids=lambda path: str(path.relative_to(COMPUTE)))
def test_computations_know_no_clock_and_read_no_file(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            assert node.module.partition(".")[0] not in {"django", "time", "os", "pathlib", "random"}
        if isinstance(node, ast.Call):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            assert name not in {"open", "today", "now", "read_text"}
