"""Modules that tests write, load as they stand, and load again as a later process would."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType


def loaded(source: str, path: Path) -> ModuleType:
    """Write a module and load it; one of its name before is forgotten."""
    path.write_text(source, encoding="utf-8")
    return load(path)


def load(path: Path) -> ModuleType:
    """A module as it stands in its file."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[path.stem] = module
    exec(compile(path.read_bytes(), path, "exec"), vars(module))
    return module
