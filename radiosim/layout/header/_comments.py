"""What the comments of a header say of each line: scales often stand nowhere else."""

import re
from collections.abc import Iterable, Mapping

_MARKS = re.compile(r"^[ \t]*(?:///?<?|//!<?|/\*[*!]?<?|\*(?!/))|\*/[ \t]*$", re.MULTILINE)
"""What makes a comment one, at its ends and before its lines."""


def comments_by_line(
    spliced: str, comments: Iterable[re.Match[str]], plain: str
) -> Mapping[int, str]:
    """Comments of a text by the line of code that they stand on, or before.

    `comments` are those of `spliced`; `plain` is the same text without them, line by line.
    """
    lines = [bool(line.strip()) for line in plain.split("\n")]
    said: dict[int, list[str]] = {}
    for match in comments:
        first = spliced.count("\n", 0, match.start())
        last = first + match[0].count("\n")
        on = [line for line in (first, last) if line < len(lines) and lines[line]]
        after = (line for line in range(last + 1, len(lines)) if lines[line])
        line = on[0] if on else next(after, None)
        if line is not None and (words := " ".join(_MARKS.sub(" ", match[0]).split())):
            said.setdefault(line + 1, []).append(words)
    return {line: "; ".join(texts) for line, texts in said.items()}
