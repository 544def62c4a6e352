"""What a word, a key of the scenario or a figure of the results means, and where it is found."""

from radiosim.report.glossary.entry import Entry, entries, word_entries
from radiosim.report.glossary.find import GlossaryError, found
from radiosim.report.glossary.text import as_json, contents, told

__all__ = [
    "Entry",
    "GlossaryError",
    "as_json",
    "contents",
    "entries",
    "found",
    "told",
    "word_entries",
]
