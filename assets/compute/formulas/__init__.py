"""Formulas of water and of the machines that move it: pure, exact, one topic a file, each with units and source."""

from __future__ import annotations
