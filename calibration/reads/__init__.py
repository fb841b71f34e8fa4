"""Reading of checks, standards and requirements for pages, here and in the rooms above."""

from __future__ import annotations

from calibration.reads.panels import begin_path, review_panel, tag_panel, today_panel

__all__ = ["begin_path", "review_panel", "tag_panel", "today_panel"]
