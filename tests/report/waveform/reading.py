"""A waveform read by a reader that is not ours."""

from functools import cached_property
from pathlib import Path

from vcdvcd import VCDVCD

from radiosim.report.waveform.file import waveform
from radiosim.trace import Trace

Changes = list[tuple[int, str]]


class Reread:
    """What the other reader finds in the waveform of a trace."""

    def __init__(self, trace: Trace, folder: Path) -> None:
        path = folder / "start.vcd"
        path.write_text(waveform(trace), encoding="utf-8")
        self._read = VCDVCD(str(path))

    @cached_property
    def names(self) -> list[str]:
        return list(self._read.signals)

    @property
    def timescale(self) -> dict[str, object]:
        scale: dict[str, object] = self._read.timescale
        return scale

    @property
    def end_ns(self) -> int:
        return int(self._read.endtime)

    def changes(self, name: str) -> Changes:
        """Of a signal: when, and to what."""
        return [(int(at), str(value)) for at, value in self._read[name].tv]

    def spans(self, name: str) -> list[tuple[int, int]]:
        """When a wire is 1; one that stays so ends with the file."""
        spans, since = [], None
        for at, value in [*self.changes(name), (self.end_ns, "0")]:
            if value == "1" and since is None:
                since = at
            elif value != "1" and since is not None:
                spans.append((since, at))
                since = None
        return spans

    def numbers(self, name: str) -> list[tuple[int, int]]:
        """Of a whole number: when, and to what."""
        return [(at, int(value, 2)) for at, value in self.changes(name)]
