"""What people type about standards, requirements and checks."""

from __future__ import annotations
