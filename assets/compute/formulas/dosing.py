"""Dosing: what a pump gives, how strong it is, and what the water gets. In SI and in US customary forms."""

from __future__ import annotations

from fractions import Fraction

LB_PER_MG_L_MGAL = Fraction("8.34")
"""Pounds in a million US gallons at 1 mg/L: the convention of operator training."""

MOLAR_CHLORINE, MOLAR_HYPOCHLORITE = Fraction("70.906"), Fraction("74.442")
"""g/mol of Cl2 and of NaOCl."""


def delivered(volume: Fraction, seconds: Fraction) -> Fraction:
    """Return what a pump delivers, mL/min, from the mL it took out of a column in so many seconds."""
    return volume * 60 / seconds


def dose(millilitres: Fraction, grams_per_litre: Fraction, water: Fraction) -> Fraction:
    """Return the dose, mg/L: feed in mL/min, strength in g/L, water in L/min."""
    return millilitres * grams_per_litre / water


def feed_for(target: Fraction, water: Fraction, grams_per_litre: Fraction) -> Fraction:
    """Return the feed, mL/min, for a target in mg/L; water in L/min, strength in g/L."""
    return target * water / grams_per_litre


def dose_by_tank(litres: Fraction, grams_per_litre: Fraction, cubic_metres: Fraction) -> Fraction:
    """Return the dose, mg/L, from the L a tank went down by, its strength in g/L and the m³ of water treated."""
    return litres * grams_per_litre / cubic_metres


def from_trade_percent(percent: Fraction) -> Fraction:
    """Return g/L of a strength in trade per cent (grams in 100 mL)."""
    return percent * 10


def from_weight_percent(percent: Fraction, specific_gravity: Fraction) -> Fraction:
    """Return g/L of a strength in per cent by weight."""
    return percent * 10 * specific_gravity


def pounds_a_day(million_gallons: Fraction, milligrams: Fraction) -> Fraction:
    """Return lb/day for a flow in million US gallons a day and a dose in mg/L."""
    return million_gallons * milligrams * LB_PER_MG_L_MGAL


def dose_from_pounds(pounds: Fraction, million_gallons: Fraction) -> Fraction:
    """Return mg/L from lb/day and million US gallons a day."""
    return pounds / (million_gallons * LB_PER_MG_L_MGAL)


def chlorine_of_hypochlorite(percent: Fraction) -> Fraction:
    """Return % available chlorine of % sodium hypochlorite, both by weight."""
    return percent * MOLAR_CHLORINE / MOLAR_HYPOCHLORITE
