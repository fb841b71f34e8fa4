"""Pages of checks, standards and requirements."""

from __future__ import annotations
