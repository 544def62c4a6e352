"""A line of text, part of it in a style: what a report is printed as, with colours or without."""


class Line:
    """Texts side by side, each with the name of a style; empty: none."""

    __slots__ = ("parts",)

    def __init__(self, text: str = "", style: str = "") -> None:
        self.parts = [(text, style)]

    def append(self, text: str, style: str = "") -> None:
        """Put a text behind."""
        self.parts.append((text, style))

    def rstrip(self) -> None:
        """Take away the white space at the end."""
        while self.parts:
            text, style = self.parts.pop()
            if left := text.rstrip():
                self.parts.append((left, style))
                break

    @property
    def plain(self) -> str:
        """The text without its styles."""
        return "".join(text for text, _ in self.parts)
