"""Commands of routines, orders and locks."""

from __future__ import annotations
