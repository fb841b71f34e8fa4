"""How standards, requirements and checks change: one function a change."""

from __future__ import annotations
