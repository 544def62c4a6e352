"""Where a page begins without a scenario: those that ship, and questions that make a new one."""

import re
import threading
from pathlib import Path
from typing import Any

from radiosim.errors import OptionError
from radiosim.live.desk import Desk
from radiosim.report.files import write_new
from radiosim.report.live.form import form_of
from radiosim.scenario.shipped import shipped_scenario, shipped_scenarios

_NAME = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]{0,99}\.toml")
_LONGEST_ANSWER = 2_000


class Single:
    """One scenario, which is all that there is."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def desk_at(self, place: str) -> Desk | None:
        """Its desk, at no place of its own; None for any other."""
        return None if place else self._desk

    def put(self, _place: str, desk: Desk) -> None:
        """What its scenario says now."""
        self._desk = desk


class Hall:
    """The scenarios that ship, opened when they are asked for, and those made in here."""

    def __init__(self, folder: Path) -> None:
        """`folder`: where new scenarios go."""
        self._folder = folder
        self._lock = threading.Lock()
        self._desks: dict[str, Desk] = {}

    def hello(self) -> dict[str, Any]:
        """What the page is made of."""
        return {
            "scenarios": [
                {"name": source.name, "title": source.title, "about": source.about}
                for source in shipped_scenarios()
            ],
            "folder": str(self._folder.resolve()),
            "form": form_of({}),
        }

    def desk_at(self, place: str) -> Desk | None:
        """The desk of a scenario that ships, or of one that was made here; None: there is none."""
        with self._lock:
            if place not in self._desks and (source := shipped_scenario(place)) is not None:
                self._desks[place] = Desk(source.path, source.name, is_own=False)
            return self._desks.get(place)

    def put(self, place: str, desk: Desk) -> None:
        """What a desk's scenario says now."""
        with self._lock:
            self._desks[place] = desk

    def form(self, asked: Any) -> dict[str, Any]:
        """What comes of some answers; OptionError for what is no set of answers."""
        said = asked.get("answers") if isinstance(asked, dict) else None
        if not isinstance(said, dict) or not all(
            isinstance(text, str) and len(text) <= _LONGEST_ANSWER for text in said.values()
        ):
            raise OptionError("answers: must be an object of texts")
        return form_of(said)

    def save(self, asked: Any) -> dict[str, Any]:
        """Write the scenario of some answers to a new file and open it; where its page is.

        OptionError for answers or a name that cannot be used, ReportError for a file that is there
        already or cannot be written.
        """
        toml = self.form(asked)["toml"]
        if toml is None:
            raise OptionError("answers: must be without a problem before they can be saved")
        name = asked.get("file")
        if not isinstance(name, str) or _NAME.fullmatch(name) is None:
            raise OptionError(
                "file: must be a plain name that ends with .toml, of letters, digits, dots, - and _"
            )
        path = self._folder / name
        if path.is_symlink():
            raise OptionError(f"{name}: must be a new file, got a link that exists")
        write_new(path, toml)
        # No scenario that ships has a dot in its name.
        self.put(name, Desk(path, name))
        return {"place": name, "written": name}
