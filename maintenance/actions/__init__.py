"""How routines, work orders and locks change: one function a change."""

from __future__ import annotations
