"""Files are written whole or not at all, and what a run reads it never writes over."""

from phrasing.files.plan import Input, Outcome, Plan, Writing, whole_folder
from phrasing.files.record import cache_folder
from phrasing.files.whole import whole_file, why_not, write_whole

__all__ = [
    "Input",
    "Outcome",
    "Plan",
    "Writing",
    "cache_folder",
    "whole_file",
    "whole_folder",
    "why_not",
    "write_whole",
]
