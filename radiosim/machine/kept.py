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
from typing import Any

import llvmlite
import llvmlite.binding as llvm

from radiosim.errors import Notice
from radiosim.machine.kinds import Kind, layout_of
from radiosim.machine.library import OF_C
from radiosim.machine.module import Module, looked_up, mark_of
from radiosim.whole_files import put_all

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


@functools.cache
def _loader() -> Any:
    """What holds the code of this process."""
    target = _target()
    # The library that Python's own math calls: results are the same to the last bit.
    library = ctypes.CDLL("ucrtbase" if os.name == "nt" else getattr(math, "__file__", None))
    for name in OF_C:
        llvm.add_symbol(f"libm.{name}", ctypes.cast(getattr(library, name), ctypes.c_void_p).value)
    return llvm.create_mcjit_compiler(llvm.parse_assembly(""), target)


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
    name = _name_of(function, " ".join(map(layout_of, kinds)))
    found = _read(name)
    if found is None:
        module = Module()
        result = module.entry(function, kinds, name)
        found = _object_of(module), result
        _write(name, module, *found)
    code, result = found
    loader = _loader()
    loader.add_object_file(llvm.ObjectFileRef.from_data(code))
    loader.finalize_object()
    return loader.get_function_address(name), result


def _object_of(module: Module) -> bytes:
    machine = _target()
    head = f'target triple = "{machine.triple}"\ntarget datalayout = "{machine.target_data}"'
    made = llvm.parse_assembly(module.text(head))
    tuning = llvm.create_pipeline_tuning_options(speed_level=LEVEL)
    tuning.loop_vectorization = tuning.slp_vectorization = False
    builder = llvm.create_pass_builder(machine, tuning)
    builder.getModulePassManager().run(made, builder)
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


def _write(name: str, module: Module, code: bytes, result: str) -> None:
    """Keep the code of a root; if it cannot be kept, tell that once."""
    told = {
        "result": result,
        "sources": {source: _digest_of(source) for source in sorted(module.files)},
        "globals": [[*names, mark] for names, mark in sorted(module.globals.items())],
    }
    data = json.dumps(told).encode() + b"\n" + code
    data = hashlib.sha256(data).digest() + data
    kept_in = folder()
    try:
        if kept_in is None:
            raise FileNotFoundError(errno.ENOENT, "there is no home, and no XDG_CACHE_HOME")
        kept_in.mkdir(parents=True, exist_ok=True)
        put_all({kept_in / name: data})
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


def _read(name: str) -> tuple[bytes, str] | None:
    """The code that was kept of a root, and what it gives back; None: it must be made anew."""
    data, kept_in = unkept.get(name), folder()
    if data is None:
        if kept_in is None:
            return None
        try:
            data = (kept_in / name).read_bytes()
        except OSError:
            return None
    told = head_of(data)
    if (
        told is not None
        and all(_digest_of(source) == digest for source, digest in told["sources"].items())
        and all(_is_so(module, names, mark) for module, *names, mark in told["globals"])
    ):
        return data[-told["bytes"] :], told["result"]
    return None


def _is_so(module: str, names: list[str], mark: str) -> bool:
    """Whether a global is what it was."""
    try:
        return mark_of(looked_up(vars(sys.modules[module]), tuple(names))) == mark
    except (KeyError, AttributeError):
        return False
