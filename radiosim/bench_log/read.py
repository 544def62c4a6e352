"""Log files: what they hold, recognised by their bytes, as one log a unit."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
from msgspec.structs import replace

from radiosim.bench_log.csv_records import Names, read_csv
from radiosim.bench_log.lives import check_numbers, unit_log, unit_of
from radiosim.bench_log.probe_records import decoded
from radiosim.bench_log.records import Event, LogError, Records, UnitLog
from radiosim.bench_log.waveforms import Wire, read_waveform
from radiosim.counted import counted
from radiosim.errors import short_name

_LOOKED_AT = 4096
MOST_BYTES = 256_000_000
"""Of a file: 32 million records."""


def read_logs(
    files: Sequence[str], names: Names, wires: Mapping[str, Wire] | None = None
) -> tuple[UnitLog, ...]:
    """Every unit's log of `FILE` or `UNIT=FILE`, in the order of units.

    `wires`: what wires of value change dumps stand for. Raises LogError for a file that cannot be
    used, and for a unit that has two.
    """
    found: dict[str, UnitLog] = {}
    for file in files:
        for log in _read(file, names, wires or {}):
            if log.unit in found:
                raise LogError(
                    f"{log.source}: must be of another unit than {found[log.unit].source}, got "
                    f"{log.unit} twice: judge one run at a time"
                )
            found[log.unit] = log
    return tuple(found[unit] for unit in names.units if unit in found)


def path_of(file: str, units: Sequence[str]) -> tuple[str, Path]:
    """The unit of `UNIT=FILE`, empty if there is none, and the file."""
    unit, equals, rest = file.partition("=")
    if equals and unit in units:
        return unit, Path(rest)
    return "", Path(file)


def _read(file: str, names: Names, wires: Mapping[str, Wire]) -> list[UnitLog]:
    said, path = path_of(file, names.units)
    source = short_name(path)
    unit, equals, _ = file.partition("=")
    if equals and not said and not path.exists():
        raise LogError(f"{file}: unit must be one of {', '.join(names.units)}, got {unit[:60]!r}")
    try:
        if path.exists() and not path.is_file():
            # A pipe would be waited for, and a device never ends.
            raise LogError(f"{source}: must be a file, got something else")
        if path.stat().st_size > MOST_BYTES:
            raise LogError(f"{source}: must be at most {MOST_BYTES:,} bytes: cut it in parts")
        if (head := _head(path)) and _is_dump(head):
            return _of_dump(path, source, names, wires)
        if _is_text(head):
            return _of_text(path, source, said, names)
        content = path.read_bytes()
    except OSError as error:
        raise LogError(f"{source}: cannot be read: {error.strerror or error}") from None
    records, strange = decoded(content, source)
    check_numbers(records, len(names.transmitters), len(names.outputs), source)
    unit = said or unit_of(records, names.transmitters, source)
    told = (
        f"{counted(strange, 'byte')} belong to no record: frames told of in them count as missing"
    )
    notes = (told,) if strange else ()
    return [_of_unit(records, unit, source, names, notes)]


def _head(path: Path) -> bytes:
    with path.open("rb") as stream:
        return stream.read(_LOOKED_AT)


def _is_text(head: bytes) -> bool:
    return bool(head) and all(32 <= byte < 127 or byte in b"\t\r\n" for byte in head[:256])


def _is_dump(head: bytes) -> bool:
    """Whether it is a value change dump: it begins with one of its keywords."""
    return _is_text(head) and head.lstrip()[:1] == b"$"


def _of_dump(path: Path, source: str, names: Names, wires: Mapping[str, Wire]) -> list[UnitLog]:
    if not wires:
        raise LogError(
            f"{source}: a value change dump needs --map, which says what its wires are, as "
            "--map irq=read:NAME,loop=pass"
        )
    with path.open(encoding="utf-8", errors="replace", newline=None) as lines:
        tables = read_waveform(lines, source, wires)
    return [
        replace(_of_unit(records, unit, source, names, ()), is_real_time=True)
        for unit, records in tables.items()
    ]


def _of_text(path: Path, source: str, said: str, names: Names) -> list[UnitLog]:
    with path.open(encoding="utf-8", errors="replace", newline=None) as lines:
        tables = read_csv(lines, source, names)
    if said and set(tables) != {said}:
        other = next(unit for unit in tables if unit != said)
        raise LogError(f"{source}: must be of {said} alone, got {other}: logs are swapped")
    return [_of_unit(records, unit, source, names, ()) for unit, records in tables.items()]


def _of_unit(
    records: Records, unit: str, source: str, names: Names, notes: Sequence[str]
) -> UnitLog:
    """The log of a unit; a transmitter's must be of its own stream."""
    log = unit_log(records, unit, source, notes)
    if unit in names.transmitters:
        own = names.transmitters.index(unit)
        for life in log.lives:
            wrong = (life["event"] == Event.SAMPLE) | (life["event"] == Event.DONE)
            wrong &= life["stream"] != own
            if wrong.any():
                other = names.transmitters[int(life["stream"][np.argmax(wrong)])]
                raise LogError(f"{source}: must be of {unit}, got records of {other}: swapped")
    return log
