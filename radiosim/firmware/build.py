"""Builds a receiver's program together with the bench for this machine; kept by a digest."""

import hashlib
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from radiosim.child_process import run_program
from radiosim.errors import FirmwareError, short_name
from radiosim.firmware.kept_programs import keep, kept
from radiosim.passing_folder import passing_folder

C_FOLDER = Path(__file__).parent / "c"
"""Headers of the contract, and the sources of benches."""
CONTRACT = ("receiver.h", "loop_style.h")
_BENCH = "host_bench.c"
_C, _CXX = (".c",), (".cpp", ".cc", ".cxx")
_FLAGS = ("-O1", "-g", "-fno-omit-frame-pointer", "-fstack-protector-all", "-ffp-contract=off")
_TRAPS = ("-fsanitize=undefined", "-fsanitize-undefined-trap-on-error")
"""What C leaves undefined ends the program where it happens; no library is needed."""
_WARNINGS = ("-Wall", "-Wextra")
_LONGEST_S = 120.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """A program that a bench can run."""

    executable: Path
    warning: str
    """The first line that the compiler warned with; empty: none."""
    warnings: int


@contextmanager
def built_for_host(
    sources: Sequence[Path], headers: Mapping[str, str], *, traps: bool = False
) -> Iterator[Built]:
    """The bench with a receiver's sources, compiled unless it was before.

    `headers`: texts of what sources include, by name, for those that do not stand beside them.
    `traps`: sources end where they do what C leaves undefined.
    FirmwareError if there is no compiler, or with its first line if a source does not compile.
    """
    if os.name != "posix":
        raise FirmwareError("firmware needs a POSIX system (Linux, macOS), this is none")
    more = _TRAPS if traps else ()
    compilers = [(*_compiler_of(source), *more) for source in sources]
    with ExitStack() as stack:
        work = stack.enter_context(work_folder())
        for name, text in headers.items():
            (work / name).write_text(text)
        include = ("-I", str(work), "-I", str(C_FOLDER))
        digest = hashlib.sha256()
        for source, compiler in zip(sources, compilers, strict=True):
            # All that goes into it, included files too, wherever they are.
            whole = run_compiler(source, (*compiler, *_FLAGS, *include, "-E", str(source)))[0]
            digest.update(whole.replace(os.fsencode(work), b"") + b"\0")
        digest.update(_environment(compilers))
        name = digest.hexdigest()[:24]
        yield _found(kept(name) or keep(_make(work, sources, compilers, include), name))


def _make(
    work: Path,
    sources: Sequence[Path],
    compilers: Sequence[tuple[str, ...]],
    include: tuple[str, ...],
) -> Path:
    made = work / "made"
    made.mkdir()
    objects = [str(_bench_object(work, include))]
    warned: list[str] = []
    for k, (source, compiler) in enumerate(zip(sources, compilers, strict=True)):
        objects.append(str(work / f"{k}.o"))
        command = (*compiler, *_FLAGS, *_WARNINGS, *include, "-c", str(source), "-o", objects[-1])
        said = run_compiler(source, command)[1]
        warned += [line for line in said.splitlines() if ": warning: " in line]
    linker = next((c[0] for c in compilers if c[0] != _cc()[0]), _cc()[0])
    # Places in the program are then those of the file, and can be named.
    fixed = ("-no-pie",) if sys.platform == "linux" else ()
    run_compiler(None, (linker, *fixed, *objects, "-lm", "-o", str(made / "rx")))
    (made / "warnings").write_text("\n".join(warned))
    return made


def _bench_object(work: Path, include: tuple[str, ...]) -> Path:
    """The bench itself, which is the same for every program."""
    name = f"bench-{hashlib.sha256(_environment(())).hexdigest()[:24]}"
    if (place := kept(name)) is not None:
        return place / "bench.o"
    made = work / "bench"
    made.mkdir()
    bench = C_FOLDER / _BENCH
    run_compiler(bench, (*_cc(), *_FLAGS, *include, "-c", str(bench), "-o", str(made / "bench.o")))
    return keep(made, name) / "bench.o"


def _found(place: Path) -> Built:
    warned = (place / "warnings").read_text().splitlines()
    return Built(executable=place / "rx", warning=warned[0] if warned else "", warnings=len(warned))


def _cc() -> tuple[str, ...]:
    return (_tool("CC", "cc"), "-std=gnu11")


def checked_source(source: Path) -> str:
    """How a source ends, in small letters; FirmwareError if it is none, or not there."""
    suffix = source.suffix.lower()
    if suffix not in (*_C, *_CXX):
        allowed = ", ".join((*_C, *_CXX))
        raise FirmwareError(f"{short_name(source)}: a source must end with {allowed}")
    if not source.is_file():
        raise FirmwareError(f"{short_name(source)}: there is no such file")
    return suffix


def _compiler_of(source: Path) -> tuple[str, ...]:
    suffix = checked_source(source)
    return _cc() if suffix in _C else (_tool("CXX", "c++"), "-std=gnu++11")


def _tool(variable: str, usual: str) -> str:
    wanted = os.environ.get(variable) or usual
    found = shutil.which(wanted)
    if found is None:
        raise FirmwareError(
            f"{wanted}: no such compiler here; install one, such as the package g++, or name it "
            f"in {variable}"
        )
    return found


def run_compiler(source: Path | None, command: Sequence[str]) -> tuple[bytes, str]:
    """What a compiler gave and said; FirmwareError with its first line if it failed."""
    name = "" if source is None else short_name(source)
    what = f"{name} does not compile" if name else "the program does not link"
    try:
        # A compiler that is ended leaves its own files: they go with their folder.
        with work_folder() as passing:
            environment = os.environ | {"LC_ALL": "C", "TMPDIR": str(passing)}
            done = run_program(command, _LONGEST_S, environment)
    except OSError as error:
        raise FirmwareError(f"{command[0]}: cannot be run: {error.strerror}") from None
    except subprocess.TimeoutExpired:
        raise FirmwareError(f"{what}: {command[0]} took longer than {_LONGEST_S:g} s") from None
    said = done.stderr.decode(errors="replace")
    if done.returncode:
        raise FirmwareError(f"{what}: {_first_of(said)}")
    return done.stdout, said


def _first_of(said: str) -> str:
    lines = [line.strip() for line in said.splitlines() if line.strip()]
    marks = (" error: ", "undefined reference", "multiple definition", "ndefined symbol")
    first = next((line for line in lines if any(mark in line for mark in marks)), "")
    # The bench may have been compiled from another copy of this package.
    first = re.sub(r"\S*/firmware/c/(?=\w+\.[ch]\b)", "", first)
    return first or (lines[0] if lines else "the compiler says nothing")


def _environment(compilers: Sequence[tuple[str, ...]]) -> bytes:
    """What a program depends on beside its sources."""
    texts = [path.read_bytes() for path in sorted(C_FOLDER.iterdir()) if path.is_file()]
    tools = sorted({_cc()[0], *(compiler[0] for compiler in compilers)})
    for tool in tools:
        told = Path(tool).stat()
        texts.append(f"{tool} {told.st_size} {told.st_mtime_ns}".encode())
    return b"\0".join(texts) + repr((compilers, _FLAGS, _WARNINGS)).encode()


def work_folder() -> AbstractContextManager[Path]:
    """A folder for this run alone, taken away in the end."""
    return passing_folder("radiosim-")
