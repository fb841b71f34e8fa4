"""Cells of files that people open in a spreadsheet."""

from __future__ import annotations

from assets.compute.csv_text import harmless

__all__ = ["harmless"]
