"""What the comments of a header say of each line: scales often stand nowhere else."""

import re
from bisect import bisect_left
from collections.abc import Iterable, Mapping

_MARKS = re.compile(r"^[ \t]*(?:///?<?|//!<?|/\*[*!]?<?|\*(?!/))|\*/[ \t]*$", re.MULTILINE)
"""What makes a comment one, at its ends and before its lines."""


def comments_by_line(
    spliced: str, comments: Iterable[re.Match[str]], plain: str
) -> Mapping[int, str]:
    """Comments of a text by the line of code that they stand on, or before.

    `comments` are those of `spliced`; `plain` is the same text without them, line by line.
    """
    code = [number for number, line in enumerate(plain.split("\n")) if line.strip()]
    said: dict[int, list[str]] = {}
    last = end = 0
    for match in comments:
        first = last + spliced.count("\n", end, match.start())
        last, end = first + match[0].count("\n"), match.end()
        # The line that it begins on, else the first with code from its end on.
        at = bisect_left(code, first)
        if at == len(code) or code[at] != first:
            at = bisect_left(code, last)
        if at < len(code) and (words := " ".join(_MARKS.sub(" ", match[0]).split())):
            said.setdefault(code[at] + 1, []).append(words)
    return {line: "; ".join(texts) for line, texts in said.items()}
