"""What a key of the scenario or a figure of the results means: found by its path, told in words."""

from radiosim.report.glossary.entry import Entry, entries
from radiosim.report.glossary.find import ExplainError, found
from radiosim.report.glossary.text import as_json, contents, told

__all__ = ["Entry", "ExplainError", "as_json", "contents", "entries", "found", "told"]
