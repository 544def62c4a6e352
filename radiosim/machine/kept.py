"""Machine code made by LLVM and loaded, and kept on disk for the next run.

A file holds the code of one root for one layout of its arguments: first a digest of the rest, then
what it was made from, then the object. It is taken only if all of that is still so. It is written
beside its place and renamed, so that runs that race find whole files only; where it cannot be
written, the next run compiles again.
"""

import ctypes
import errno
import functools
import hashlib
import json
import math
import os
import sys
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import llvmlite
import llvmlite.binding as llvm

from radiosim.errors import Notice
from radiosim.machine.asked import looked_up, mark_of
from radiosim.machine.kinds import OF_C, Kind, layout_of
from radiosim.whole_files import put_all

if TYPE_CHECKING:
    from radiosim.machine.module import Module

LEVEL = 2
"""How hard LLVM tries."""
DIGEST = 32


@functools.cache
def _host() -> tuple[str, str, str]:
    """The machine that code is made for: its kind, processor, and what that can do."""
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    features = llvm.get_host_cpu_features().flatten()
    return llvm.get_process_triple(), llvm.get_host_cpu_name(), features


def _target() -> Any:
    """What makes code for it; what loads code owns one of its own."""
    triple, cpu, features = _host()
    return llvm.Target.from_triple(triple).create_target_machine(
        cpu=cpu, features=features, opt=LEVEL, reloc="static", codemodel="jitdefault", jit=True
    )


@functools.cache
def _emitter() -> str:
    """Digest of what code depends on beside its sources."""
    sources = sorted(Path(__file__).parent.glob("*.py"))
    told = f"{llvmlite.__version__} {_host()} ".encode()
    return hashlib.sha256(told + b"".join(path.read_bytes() for path in sources)).hexdigest()


class _Loader:
    """What holds the code of this process."""

    def __init__(self) -> None:
        target = _target()
        # The library that Python's own math calls: results are the same to the last bit.
        library = ctypes.CDLL("ucrtbase" if os.name == "nt" else getattr(math, "__file__", None))
        for name in OF_C:
            place = ctypes.cast(getattr(library, name), ctypes.c_void_p).value
            llvm.add_symbol(f"libm.{name}", place)
        self.names: set[str] = set()
        self.loaded = llvm.create_mcjit_compiler(llvm.parse_assembly(""), target)

    def add(self, symbol: str, code: bytes) -> None:
        """Load the code of a root, once; all that it calls must be there."""
        if symbol not in self.names:
            self.names.add(symbol)
            self.loaded.add_object_file(llvm.ObjectFileRef.from_data(code))

    def address_of(self, symbol: str) -> int:
        """Where a root lies."""
        self.loaded.finalize_object()
        address: int = self.loaded.get_function_address(symbol)
        return address


@functools.cache
def _loader() -> _Loader:
    return _Loader()


def make_ready() -> None:
    """Fail now if code cannot be made or loaded here."""
    _loader()


def folder() -> Path | None:
    """Where compiled code is kept; None for a user without a home."""
    try:
        cache = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    except RuntimeError:
        return None
    return cache / "radiosim" / "machine"


def _name_of(function: Callable[..., Any], layout: str) -> str:
    """The file of a root: another one for other sources, arguments or machines."""
    told = f"{function.__code__.co_filename} {layout} {_emitter()}"
    digest = hashlib.sha256(told.encode()).hexdigest()[:20]
    return f"{function.__module__}.{function.__name__}.{digest}"


def is_kept(function: Callable[..., Any]) -> bool:
    """Whether a run before this one has left code of a root, be it of today's sources or not."""
    kept_in = folder()
    names = f"{function.__module__}.{function.__name__}.*"
    return kept_in is not None and any(kept_in.glob(names))


@functools.cache
def address_of(function: Callable[..., Any], kinds: tuple[Kind, ...]) -> tuple[int, str]:
    """Where the code of a root lies for some kinds of arguments, and what it gives back.

    Letters of the struct module say what that is; after a bracket those of a tuple.
    """
    symbol, result = linked(function, kinds)
    return _loader().address_of(symbol), result


@functools.cache
def linked(function: Callable[..., Any], kinds: tuple[Kind, ...]) -> tuple[str, str]:
    """Symbol of a root, which is loaded with all that it calls, and what it gives back."""
    name = _name_of(function, " ".join(map(layout_of, kinds)))
    found = _read(name, set())
    if found is not None:
        for symbol, code in found.items():
            _loader().add(symbol, code.data)
        return name, found[name].result
    from radiosim.machine.module import Module  # noqa: PLC0415 - not needed where code is kept

    module = Module(linked)
    result = module.entry(function, kinds, name)
    data = _object_of(module)
    _write(name, module, data, result)
    _loader().add(name, data)
    return name, result


def _object_of(module: "Module") -> bytes:
    machine = _target()
    head = f'target triple = "{machine.triple}"\ntarget datalayout = "{machine.target_data}"'
    made = llvm.parse_assembly(module.text(head))
    tuning = llvm.create_pipeline_tuning_options(speed_level=LEVEL)
    builder = llvm.create_pass_builder(machine, tuning)
    whole = llvm.create_new_module_pass_manager()
    # What is put in elsewhere is made short before; all else LLVM sees once, not at every level
    # of calls, as its own order of passes over a module does.
    whole.add_sroa_pass()
    whole.add_simplify_cfg_pass()
    whole.add_instruction_combine_pass()
    whole.add_simplify_cfg_pass()
    whole.run(made, builder)
    inlined = llvm.create_new_module_pass_manager()
    inlined.add_always_inliner_pass()
    inlined.run(made, builder)
    simplified = builder.getFunctionPassManager()
    for function in made.functions:
        if not function.is_declaration:
            simplified.run(function, builder)
    code: bytes = machine.emit_object(made)
    return code


@functools.cache
def _digest_of(path: str) -> str:
    """Digest of a source; empty if it is gone."""
    try:
        return hashlib.sha256(Path(path).read_bytes()).hexdigest()
    except OSError:
        return ""


unkept: dict[str, bytes] = {}
"""Code that could not be kept, by its name: for processes that work for this one."""


def _write(name: str, module: "Module", code: bytes, result: str) -> None:
    """Keep the code of a root; if it cannot be kept, tell that once."""
    told = {
        "result": result,
        "sources": {source: _digest_of(source) for source in sorted(module.files)},
        "roots": module.roots,
        "globals": [[*names, mark] for names, mark in sorted(module.globals.items())],
    }
    data = json.dumps(told).encode() + b"\n" + code
    data = hashlib.sha256(data).digest() + data
    kept_in = folder()
    try:
        if kept_in is None:
            raise FileNotFoundError(errno.ENOENT, "there is no home, and no XDG_CACHE_HOME")
        kept_in.mkdir(parents=True, exist_ok=True)
        place = kept_in / name
        if place.exists() and not place.is_file():
            raise FileExistsError(errno.EEXIST, f"{name} is no file")
        put_all({place: data})
    except OSError as error:
        if not unkept:
            text = f"{kept_in or 'cache'}: compiled code cannot be kept: {error.strerror or error}"
            warnings.warn(f"{text}; the next run makes it again", Notice, stacklevel=2)
        unkept[name] = data


def head_of(data: bytes) -> dict[str, Any] | None:
    """What the code in a file was made from, what it gives back, and its length; None: damaged."""
    if hashlib.sha256(data[DIGEST:]).digest() != data[:DIGEST]:
        return None
    head, _, code = data[DIGEST:].partition(b"\n")
    told: dict[str, Any] = json.loads(head)
    return told | {"bytes": len(code)}


class _Kept(NamedTuple):
    """Code of a root, and what it gives back."""

    data: bytes
    result: str


def _read(name: str, seen: set[tuple[str, ...]]) -> dict[str, _Kept] | None:
    """The code that was kept of a root, after that of all that it calls; None: make it anew.

    `seen`: globals that are found to be what they were; those of its callers are looked at once.
    """
    data = _data_of(name)
    told = None if data is None else head_of(data)
    if (
        data is None
        or told is None
        or any(_digest_of(source) != digest for source, digest in told["sources"].items())
    ):
        return None
    for module, *names, mark in told["globals"]:
        if (module, *names, mark) not in seen:
            if not _is_so(module, names, mark):
                return None
            seen.add((module, *names, mark))
    found: dict[str, _Kept] = {}
    for symbol, result in told["roots"].items():
        called = _read(symbol, seen)
        if called is None or called[symbol].result != result:
            return None
        found |= called
    return found | {name: _Kept(data[-told["bytes"] :], told["result"])}


def _data_of(name: str) -> bytes | None:
    """All that was kept under a name, or could not be kept in this run; None: nothing."""
    kept_in = folder()
    if name in unkept or kept_in is None:
        return unkept.get(name)
    place = kept_in / name
    try:
        # A pipe or a device would be read for ever.
        return place.read_bytes() if place.is_file() else None
    except OSError:
        return None


def _is_so(module: str, names: list[str], mark: str) -> bool:
    """Whether a global is what it was."""
    try:
        return mark_of(looked_up(vars(sys.modules[module]), tuple(names))) == mark
    except (KeyError, AttributeError):
        return False
