"""What screens say of figures that a receiver's own program has made."""

from collections.abc import Iterable

from radiosim.results.document import Section, Sentence


def program_section(lines: Iterable[str]) -> Section:
    """Which program it is, and whose the rest; `lines`: as `program_lines` has them."""
    return Section(
        heading="Whose figures these are",
        sentences=tuple(Sentence(text=f"{line[0].upper()}{line[1:]}.") for line in lines),
    )
