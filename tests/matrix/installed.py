"""Pythons of this machine, and radiosim installed for one of them outside of its checkout."""

import re
import shutil
import subprocess
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
PYTHONS = ("3.11", "3.12", "3.13", "3.14")
_WHEELS = ("--only-binary", ":all:")
_BOUND = re.compile(r"(?P<name>[A-Za-z0-9_-]+)>=(?P<low>[0-9.]+)")
_LISTED = re.compile(r"\(from versions: (.*)\)")


class NotInstalledError(Exception):
    """What was said as something could not be installed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """What is handed to those who install it."""

    wheel: Path
    sdist: Path


def pythons() -> Iterator[tuple[str, str]]:
    """Version and interpreter of each Python found that can make an environment."""
    for version in PYTHONS:
        name = f"python{version}"
        places = [shutil.which(name), *Path.home().glob(f".pyenv/versions/{version}.*/bin/{name}")]
        for place in filter(None, map(str, filter(None, places))):
            asked = [place, "-c", "import ensurepip, sys; print(sys.version.split()[0])"]
            answer = subprocess.run(asked, capture_output=True, text=True, check=False)
            if answer.returncode == 0:
                yield answer.stdout.strip(), place
                break


def packed(folder: Path, python: str) -> Packed:
    """A wheel and an sdist of the checkout."""
    builder = _environment(folder / "builder", python)
    _ran(builder, "-m", "pip", "install", "-q", "hatchling")
    _ran(builder, "-m", "hatchling", "build", "-d", str(folder / "dist"))
    (wheel,), (sdist,) = ((folder / "dist").glob(end) for end in ("*.whl", "*.tar.gz"))
    return Packed(wheel=wheel, sdist=sdist)


def installed(folder: Path, python: str, packed: Path, *, is_lowest: bool) -> tuple[Path, str]:
    """An interpreter that has radiosim, and with which versions of what it needs.

    NotInstalledError if those do not go together.
    """
    own = _environment(folder, python)
    constraints = folder / "constraints.txt"
    lines = [f"{name}=={low}" for name, low in lowest(own)] if is_lowest else []
    constraints.write_text("\n".join(lines), encoding="utf-8")
    asked = ("-q", "--upgrade", "--upgrade-strategy", "eager", "-c", str(constraints))
    if packed.name.endswith(".tar.gz"):
        # What it needs, as wheels; itself as the sdist has it.
        names = [bound["name"] for bound in _bounds()]
        _ran(own, "-m", "pip", "install", *asked, *_WHEELS, *names)
        _ran(own, "-m", "pip", "install", "-q", "--no-deps", str(packed))
    else:
        _ran(own, "-m", "pip", "install", *asked, *_WHEELS, str(packed))
    _ran(own, "-m", "pip", "check")
    listed = [
        line.split("==") for line in _ran(own, "-m", "pip", "freeze").splitlines() if "==" in line
    ]
    found = {name.lower().replace("_", "-"): version for name, version in listed}
    return own, ", ".join(f"{bound['name']} {found[bound['name']]}" for bound in _bounds())


def lowest(python: Path) -> Iterator[tuple[str, str]]:
    """Of each thing needed the lowest version allowed that has a wheel for a Python."""
    for bound in _bounds():
        # Asked for one that cannot be, pip lists those that have wheels for its Python.
        asked = [str(python), "-m", "pip", "install", "--dry-run", *_WHEELS, f"{bound['name']}==0"]
        refused = subprocess.run(asked, capture_output=True, text=True, check=False).stderr
        listed = _LISTED.search(refused)
        if listed is None:
            raise NotInstalledError(refused)
        final = [text for text in listed[1].split(", ") if re.fullmatch(r"[0-9.]+", text)]
        allowed = [text for text in final if _number(text) >= _number(bound["low"])]
        yield bound["name"], min(allowed, key=_number)


def _bounds() -> list[re.Match[str]]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return [found for text in project["dependencies"] if (found := _BOUND.fullmatch(text))]


def _number(text: str) -> tuple[int, ...]:
    parts = [int(part) for part in re.findall(r"\d+", text)]
    while parts and parts[-1] == 0:
        parts.pop()
    return tuple(parts)


def _environment(folder: Path, python: str) -> Path:
    subprocess.run([python, "-m", "venv", str(folder)], check=True)
    return folder / "bin" / "python"


def _ran(python: Path, *arguments: str) -> str:
    done = subprocess.run(
        [str(python), *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise NotInstalledError(f"{' '.join(arguments)}: {done.stdout}{done.stderr}")
    return done.stdout
