"""What a key of the scene or a figure of the results means: found by its path, told in words."""

from radiosim.report.explain.entry import Entry, entries
from radiosim.report.explain.find import ExplainError, found
from radiosim.report.explain.text import as_json, contents, told

__all__ = ["Entry", "ExplainError", "as_json", "contents", "entries", "found", "told"]
