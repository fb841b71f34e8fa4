"""What differs between families of lots: how near a label is to its kind, how long one lasts opened, what can hurt."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from assets.compute.units import unit_of
from calibration.compute.standards import HIGH_BUFFER, HIGH_BUFFER_LIFE_DAYS, KINDS, OPENED_LIFE_DAYS

NO_LIFE = 3650
"""Days for what opening does not spoil: the last day of the lot itself counts."""

DEFER = "Read the safety data sheet, follow the plant’s written procedure and local rules."


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """`low` and `high` bound a value that can be meant. Label and kind agree within `same` or the `share` of it.

    `life` are the days a lot is used once opened (common practice, no source); `caution` says what can hurt. `unit` is
    the only one its values are kept in here, where methods and tables hold no other.
    """

    low: Fraction
    high: Fraction
    same: Fraction = Fraction(0)
    share: Fraction = Fraction(0)
    life: int = OPENED_LIFE_DAYS
    caution: str = ""
    unit: str = ""

    def agree(self, label: Fraction, nominal: Fraction) -> bool:
        """Whether a label's value is that of its kind: own judgement, so that two kinds are not exchanged."""
        return abs(label - nominal) <= max(self.same, self.share * abs(nominal))


_NONE, _MANY = Fraction(0), Fraction(1_000_000)
FAMILIES: Mapping[str, Family] = {
    # Labels of one buffer differ by some hundredths; 6.86 and 7.00 are two buffers.
    "buffer": Family(low=_NONE, high=Fraction(14), same=Fraction(1, 10)),
    "redox solution": Family(
        unit="mV",
        low=Fraction(-2000),
        high=Fraction(2000),
        same=Fraction(20),
        caution="ZoBell’s solution holds cyanide compounds: never bring it together with acid, which can set free a "
        f"poisonous gas. Light’s solution holds strong acid. Gloves and goggles. {DEFER}",
    ),
    "conductivity solution": Family(low=_NONE, high=_MANY, share=Fraction(1, 50), unit="µS/cm"),
    "zero solution": Family(
        low=_NONE,
        high=Fraction(1),
        life=1,
        caution=f"Sulfite can set off asthma, and with acid gives off a choking gas. Gloves, fresh air. {DEFER}",
    ),
    "chlorine standard": Family(low=_NONE, high=_MANY, share=Fraction(1, 10)),
    "turbidity standard": Family(
        low=_NONE,
        high=Fraction(10_000),
        share=Fraction(1, 10),
        caution=f"Formazin is made from a poison that may cause cancer: gloves, no skin contact. {DEFER}",
    ),
    "turbidity block": Family(low=_NONE, high=Fraction(10_000), life=NO_LIFE),
    "absorbance standard": Family(
        low=_NONE,
        high=Fraction(1000),
        life=NO_LIFE,
        caution=f"A liquid filter may hold dichromate in acid, poisonous and corrosive: leave the cell closed. {DEFER}",
    ),
    "gas": Family(
        low=_NONE,
        high=_MANY,
        life=NO_LIFE,
        caution="A bottle under pressure: secured upright, its own regulator, opened slowly. Poisonous or "
        "oxygen-displacing gas only in moving air, never alone in a small room; a confined space needs its permit. "
        f"{DEFER}",
    ),
    "mass": Family(low=_NONE, high=_MANY, life=NO_LIFE, caution="Lift heavy masses with two people or a hoist."),
}


def written_unit(typed: str, family: str) -> str:
    """Return the unit of a standard as it is kept. Raises ValueError with one sentence where it is none or not its own.

    A filter of known absorbance has no unit: what is written of it is kept as it stands.
    """
    text = typed.strip()
    if family == "absorbance standard":
        return text
    code = unit_of(text).code
    wanted = FAMILIES[family].unit if family in FAMILIES else ""
    if wanted and code != wanted:
        raise ValueError(f"a {KINDS[family]} is kept in {wanted} here; bring its value to {wanted} and write that.")
    return code


def usual_life(family: str, value: Fraction) -> int:
    """Return the days an opened lot is used: common practice, no source."""
    if family == "buffer" and value >= HIGH_BUFFER:
        return HIGH_BUFFER_LIFE_DAYS
    return FAMILIES[family].life
