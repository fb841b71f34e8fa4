"""Who may do what with routines, orders and locks, and the only way views get at them."""

from __future__ import annotations
