"""A figure that has been drawn."""

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A figure as a page takes it."""

    name: str
    """Of letters, digits and `-`; one of a kind on its page."""
    title: str
    """What it shows, as a finding."""
    wide_svg: str
    narrow_svg: str
    """The same for a phone."""
    text: str
    """What a reader who cannot see it needs: the numbers in words."""
    data: dict[str, Any]
    """The numbers that it was drawn from, as JSON has them."""
