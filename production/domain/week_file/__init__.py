"""The week file: one JSON file that holds a kitchen, its catalogue and stock, and a week's orders."""

from production.domain.week_file.layout import FORMAT, LARGEST_BYTES, VERSION
from production.domain.week_file.reading import parse_week
from production.domain.week_file.schema import week_schema
from production.domain.week_file.writing import dump_week, dumps_week

__all__ = ["FORMAT", "LARGEST_BYTES", "VERSION", "dump_week", "dumps_week", "parse_week", "week_schema"]
