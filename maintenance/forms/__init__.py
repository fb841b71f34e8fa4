"""What people type on the pages of routines, orders and locks."""

from __future__ import annotations
