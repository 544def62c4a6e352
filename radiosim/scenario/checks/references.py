"""Names in one table that must stand in another."""

from collections.abc import Collection, Iterator

from radiosim.scenario.checks.view import Found
from radiosim.scenario.paths import Path, listed, nearest
from radiosim.scenario.problems import shown


def unknown(path: Path, noun: str, word: str, known: Collection[str]) -> Iterator[Found]:
    """A problem unless the word is known; the known ones are listed."""
    if word not in known:
        yield path, f"must be {noun} ({listed(known)}), got {shown(word)}{nearest(word, known)}"
