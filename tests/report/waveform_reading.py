"""A waveform read by a reader that is not ours."""

import signal
from functools import cached_property
from pathlib import Path
from typing import Any

from radiosim.report.waveform import waveform
from radiosim.trace import Trace

Changes = list[tuple[int, str]]


def read_by_another(path: Path) -> Any:
    """A file as the other reader has it.

    As it is imported it lets a broken pipe kill the process: a test worker would vanish without a
    word when processes of a pool are lost.
    """
    before = signal.getsignal(signal.SIGPIPE)
    from vcdvcd import VCDVCD

    signal.signal(signal.SIGPIPE, before)
    return VCDVCD(str(path))


class Reread:
    """What the other reader finds in the waveform of a trace."""

    def __init__(self, trace: Trace, folder: Path) -> None:
        path = folder / "start.vcd"
        path.write_text(waveform(trace), encoding="utf-8")
        self._read = read_by_another(path)

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
