"""Finds the entry that a user means: a word, or a path with or without the names of tables."""

import difflib
from collections.abc import Iterable
from dataclasses import replace

from radiosim.errors import RadiosimError
from radiosim.report.glossary.entry import (
    PLACEHOLDERS,
    Entry,
    EntryPath,
    entries,
    word_entries,
)
from radiosim.scenario.key_paths import index_of, path_of
from radiosim.scenario.problems import shown
from radiosim.scenario.schema import NUMBER

_PREFIXES = ("figures",)
_MOST_HINTS = 3
Names = dict[EntryPath, str]
"""Path up to a placeholder → what the user called it."""


class GlossaryError(RadiosimError):
    """What is asked for is neither a word nor a key nor a figure."""


def found(asked: str) -> tuple[Entry, ...]:
    """The entries that a text names: words first, then paths, with the user's names in them.

    `transmitter.drive.period_ms`, `transmitter.period_ms` and `period_ms` name the same key; case
    does not matter in words. GlossaryError, with the nearest ones, if none is named.
    """
    words = _words(asked)
    everything = entries()
    hits = (*words, *_paths(asked, everything))
    if not hits:
        near = _nearest(asked, everything)
        hint = f", did you mean {' or '.join(near)}?" if near else " (radiosim glossary lists them)"
        raise GlossaryError(
            "WORD: must be a word of the screens, a key of the scenario or a figure of the "
            f"results, got {shown(asked)}{hint}"
        )
    return hits


def _words(asked: str) -> tuple[Entry, ...]:
    """The word as it is written; else whatever differs in its capitals alone."""
    text = " ".join(asked.split())
    same = tuple(entry for entry in word_entries() if entry.path[0].lower() == text.lower())
    exact = tuple(entry for entry in same if entry.path[0] == text)
    return exact or same


def _paths(asked: str, everything: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """Keys, tables and figures; one unless it is ambiguous."""
    steps = _steps(asked)
    if steps[:1] and steps[0] in _PREFIXES:
        steps = steps[1:]
    hits = [hit for entry in everything if (hit := _named(entry, steps))]
    if not hits:
        tails = (_tail(entry, steps) for entry in everything)
        return tuple(entry for entry in tails if entry)
    # The one with most of its words said: `output.servo` is the key, not an output of that name.
    best = max(said for _, said in hits)
    return tuple(entry for entry, said in hits if said == best)


def _steps(asked: str) -> EntryPath:
    try:
        return tuple(
            str(step) for step in path_of(asked.strip().replace(f"[{NUMBER}]", f".{NUMBER}"))
        )
    except ValueError:
        return (asked.strip(),)


def _named(entry: Entry, steps: EntryPath) -> tuple[Entry, int] | None:
    """The entry with the user's names, and how many of its own words were said."""
    names = _match(entry.path, steps, ())
    if names is None or _is_slip(entry, names):
        return None
    return _with_names(entry, names), len(steps) - len(names)


def _match(pattern: EntryPath, steps: EntryPath, done: EntryPath) -> Names | None:
    if not pattern:
        return None if steps else {}
    head, rest = pattern[0], pattern[1:]
    if head not in PLACEHOLDERS:
        return _match(rest, steps[1:], (*done, head)) if steps[:1] == (head,) else None
    skipped = _match(rest, steps, (*done, head))
    if skipped is not None or not steps or (head == NUMBER and not _is_number(steps[0])):
        return skipped
    taken = _match(rest, steps[1:], (*done, head))
    return None if taken is None else {(*done, head): steps[0], **taken}


def _is_number(step: str) -> bool:
    return index_of(step) is not None or step == NUMBER


def _is_slip(entry: Entry, names: Names) -> bool:
    """Whether the name given to a table looks like one of its keys, misspelt."""
    name = names.get(entry.path)
    known = {inner.path[len(entry.path)] for inner in entry.inner if inner.path > entry.path}
    return name is not None and bool(difflib.get_close_matches(name, known, n=1, cutoff=0.7))


def _tail(entry: Entry, steps: EntryPath) -> Entry | None:
    """The entry if the steps are the end of its path."""
    starts = (at for at, step in enumerate(entry.path) if at and step not in PLACEHOLDERS)
    is_end = any(_match(entry.path[at:], steps, ()) is not None for at in starts)
    return entry if is_end else None


def _with_names(entry: Entry, names: Names) -> Entry:
    """The same with the user's names, also where they name a figure's stream or output."""
    own = {path[0]: name for path, name in names.items() if len(path) == 2}
    path = tuple(names.get(entry.path[: at + 1], step) for at, step in enumerate(entry.path))
    return replace(
        entry,
        path=path,
        moves=tuple(_with_root(figure, own) for figure in entry.moves),
        moved_by=tuple(_with_root(key, own) for key in entry.moved_by),
        inner=tuple(
            replace(inner, path=(*path, *inner.path[len(path) :])) for inner in entry.inner
        ),
    )


_SAME = {
    "stream": ("transmitter", "failsafe", "stream", "reaction"),
    "output": ("output",),
    "reaction": ("transmitter", "failsafe"),
    "transmitter": ("stream", "reaction"),
    "failsafe": ("stream", "reaction"),
}
"""Root of a path → roots of the tables whose names it shares."""


def _with_root(path: EntryPath, own: dict[str, str]) -> EntryPath:
    shared = next((own[root] for root in _SAME.get(path[0], ()) if root in own), None)
    return path if shared is None else (path[0], shared, *path[2:])


def _nearest(asked: str, everything: Iterable[Entry]) -> list[str]:
    """Words or paths like the one asked for; else paths whose last word is like its last."""
    known = {entry.path[0].lower(): entry.path[0] for entry in word_entries()}
    alike = difflib.get_close_matches(asked.strip().lower(), known, n=_MOST_HINTS, cutoff=0.8)
    if alike:
        return [known[text] for text in alike]
    paths = {
        entry.path: ".".join(s for s in entry.path if s not in PLACEHOLDERS) for entry in everything
    }
    steps = _steps(asked)
    for text in (".".join(steps), ".".join((*steps[:1], *steps[2:]))):
        near = difflib.get_close_matches(text, paths.values(), n=_MOST_HINTS, cutoff=0.8)
        if near:
            return list(dict.fromkeys(near))
    words = {path[-1] for path in paths if path[-1] not in PLACEHOLDERS}
    close = difflib.get_close_matches(steps[-1], words, n=1)
    return [text for path, text in paths.items() if path[-1:] == tuple(close)][:_MOST_HINTS]
