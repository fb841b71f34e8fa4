"""What pages of routines, orders and locks show, read from several tables."""

from __future__ import annotations
