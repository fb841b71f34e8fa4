"""How reliable pumps and instruments are: rates, lifetimes, repairs, and when to replace before failure."""

from __future__ import annotations
