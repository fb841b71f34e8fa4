"""What the pages show of the plant, its people and its history: read in a few queries, given as frozen records."""

from __future__ import annotations

from assets.reads.asset import AssetPage, asset_page, assets_page
from assets.reads.log import LogEntry, log_of
from assets.reads.people import PeoplePage, PersonPage, people_page, person_page
from assets.reads.plant import PlantPage, labels, plant_page
from assets.reads.records import Fault, check_records, heads_text
from assets.reads.register import register_text, register_workbook
from assets.reads.tag import TagPanel, tag_panel

__all__ = [
    "AssetPage",
    "Fault",
    "LogEntry",
    "PeoplePage",
    "PersonPage",
    "PlantPage",
    "TagPanel",
    "asset_page",
    "assets_page",
    "check_records",
    "heads_text",
    "labels",
    "log_of",
    "people_page",
    "person_page",
    "plant_page",
    "register_text",
    "register_workbook",
    "tag_panel",
]
