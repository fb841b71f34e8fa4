"""What the pages show of the plant, its people and its history: read in a few queries, given as frozen records."""

from __future__ import annotations

from assets.reads.asset import AssetPage, asset_page
from assets.reads.log import LogEntry, log_of
from assets.reads.people import PersonPage, person_page
from assets.reads.plant import has_tags, labels
from assets.reads.records import Fault, check_records, heads_text
from assets.reads.register import register_text, register_workbook
from assets.reads.tag import TagPanel, tag_panel

__all__ = [
    "AssetPage",
    "Fault",
    "LogEntry",
    "PersonPage",
    "TagPanel",
    "asset_page",
    "check_records",
    "has_tags",
    "heads_text",
    "labels",
    "log_of",
    "person_page",
    "register_text",
    "register_workbook",
    "tag_panel",
]
