"""One word for one thing: no text of the package says what has another name.

Texts are string literals, docstrings included: what a user or a developer reads. A word that is
right in one place and wrong elsewhere is allowed there, with the reason.
"""

import ast
import functools
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "radiosim"

WORDS: dict[str, str] = {
    r"\bscenes?\b": "scenario",
    r"\bsenders?\b": "transmitter",
    r"\bholes?\b|hole_ms": "gap",
    r"\bspells?\b": "loss burst, beat",
    r"\busual (delay|wait|gap|latency|age)": "median or p99",
    r"\b(longest|shortest|usual|worst) waits?\b": "gap",
    r"\bwaits? (for|between|from one) (a |the |one )?values?\b": "gap",
    r"\bwithout a value\b": "gap",
    r"\bsilence of values\b": "gap",
    r"\bdelay of (the )?values?\b|\b(usual|99 %) delay\b|\blateness\b": "latency",
    r"\bpass_ms\b": "loop_ms",
    r"\banswers?\b|\banswered\b|\banswering\b": "acknowledgement",
    r"\bchecksums?\b": "CRC",
    r"\bg(ives?|iven|ave|iving)[ _]up\b": "retries used up",
    r"\bclocks meet\b|\bmeetings?\b": "beat",
    r"\bair time share\b|\bshare of air time\b": "duty cycle",
    r"\bbusy share\b": "channel occupancy",
    r"\bstop_ms\b": "reaction_ms",
    r"\bstandstill\b": "stopping time",
    r"\bleft alive\b|\bstays? alive\b": "still driven",
    r"\btrip(s|ped)? for nothing\b": "nuisance trip",
    r"\bentries_true\b": "trips_on_fault",
    r"\bfrozen (transmitter|sender|unit|program|frame|field|counter)s?\b": "stale",
    r"\blook out\b": "Caution",
    r"\bbench cards?\b": "bench test sheet",
    r"\b(?-i:NO ROOM)\b": "feasible range, NONE",
    r"\bmargin for both\b": "margin",
    r"\bpooled\.": "figures",
    r"\bin vain\b|\bbrings? nothing\b|\bdo not go together\b|\bis told\b": "a plain sentence",
}
"""What must not stand in a text → what stands there instead."""
ALLOWED: dict[tuple[str, str], str] = {
    ("assess/answers.py", "answer"): "three questions of a reader are answered there",
    ("results/document.py", "answer"): "the same, as part of any report",
    ("report/run.py", "answer"): "the same, of a run",
    ("live/", "answer"): "a page asks, and is answered",
    ("report/live/", "answer"): "the same",
    ("report/glossary/words.py", "trip"): "the gloss of a nuisance trip",
    ("scenario/ask/", "answer"): "a builder answers questions",
    ("cli/new.py", "answer"): "a builder answers questions",
    ("engine/rules/timing.py", "lateness"): "of a sample, by jitter; latency is of values",
    ("scenario/checks/unit_checks.py", "lateness"): "the same",
}
"""Beginning of a path and of a word → why the word is right there."""
NOT_YET: tuple[str, ...] = ()
"""Beginnings of paths whose texts still have old words."""


@functools.cache
def texts(path: Path) -> list[tuple[int, str]]:
    """Line and text of every string literal."""
    return [
        (node.lineno, " ".join(node.value.split()))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    ]


def old_words(path: Path) -> Iterator[str]:
    """Each old word of a file, with its place and the word that it should be."""
    name = path.relative_to(PACKAGE).as_posix()
    for line, text in texts(path):
        for pattern, word in WORDS.items():
            for found in re.finditer(pattern, text, re.IGNORECASE):
                if not is_allowed(name, found[0]):
                    yield f"{name}:{line}: {found[0]!r} -> {word}: {text[:70]!r}"


def is_allowed(name: str, word: str) -> bool:
    """Whether a word is right in a file."""
    allowed = ((file, stem) for file, stem in ALLOWED if name.startswith(file))
    return any(word.lower().startswith(stem) for _, stem in allowed)


FILES = sorted(PACKAGE.rglob("*.py"))


def is_awaited(path: Path) -> bool:
    return path.relative_to(PACKAGE).as_posix().startswith(NOT_YET) if NOT_YET else False


@pytest.mark.parametrize(
    "path", [path for path in FILES if not is_awaited(path)], ids=lambda path: path.as_posix()
)
def test_a_text_says_what_a_thing_is_called(path: Path) -> None:
    assert list(old_words(path)) == []


def test_every_text_is_looked_at() -> None:
    assert len(FILES) > 100
    assert sum(1 for path in FILES for _ in texts(path)) > 5000


def test_every_exception_is_needed() -> None:
    for prefix, word in ALLOWED:
        paths = [p for p in FILES if p.relative_to(PACKAGE).as_posix().startswith(prefix)]
        found = (text for path in paths for _, text in texts(path))
        assert any(re.search(rf"\b{word}", text, re.IGNORECASE) for text in found), prefix
