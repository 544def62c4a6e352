"""What a word, a key of the scenario or a figure of the results means, and where it is found."""

from radiosim.report.glossary.entry import Entry, as_json, contents, entries, told, word_entries
from radiosim.report.glossary.find import GlossaryError, found

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
