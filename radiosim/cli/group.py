"""A group of commands; wrong arguments are refused as all else is: in one line."""

import itertools
import sys
from collections.abc import Sequence
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from radiosim.cli.console import REFUSED, TRACEBACK, code_of, say, stopped, tell
from radiosim.cli.plain_values import PlainHelp
from radiosim.edges import edge_text
from radiosim.errors import RadiosimError, one_line
from radiosim.version import VERSION

_LONGEST_WORD = 60
_MUST_BE = {
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "int_parsing_size": "a whole number of fewer digits",
    "float_parsing": "a number",
}
"""Kinds of wrong values, as the library that reads them names them, and what is allowed."""


class Commands(PlainHelp, TyperGroup):
    """A group whose `main` is the one place where wrong arguments are told of."""

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        windows_expand_args: bool = True,
        **more: Any,
    ) -> Any:
        """Run the command that the arguments name; ends the program."""

        words = sys.argv[1:] if args is None else args

        def parsed() -> int:
            if option := _without_value(words):
                raise RadiosimError(f"{option}: must be followed by a value, got an empty one")
            try:
                code: int = super(Commands, self).main(
                    args, prog_name, complete_var, False, windows_expand_args, **more
                )
            except typer.TyperException as error:
                tell(_refusal(error, words))
                return REFUSED
            except typer.Abort:
                return stopped()
            return code

        code = code_of(parsed)
        if not standalone_mode:
            return code
        sys.exit(code)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """The command of that name; RadiosimError if there is none."""
        name = args[0]
        if self.get_command(ctx, name) is None and not name.startswith("-"):
            from radiosim.scenario.key_paths import nearest

            hint = nearest(name, self.list_commands(ctx)) or f"; {_help_of(ctx)} lists them"
            raise RadiosimError(f"{_cut(name)}: must be a command of {ctx.command_path}{hint}")
        return super().resolve_command(ctx, args)


def _without_value(words: Sequence[str]) -> str:
    """The option whose value is empty, as "$FILE" is where no FILE is set; empty if none is."""
    pairs = [*itertools.pairwise(words), *(word.split("=", 1) for word in words if "=" in word)]
    found = (option for option, value in pairs if option.startswith("--") and not value)
    return next(found, "")


def _refusal(error: typer.TyperException, words: Sequence[str]) -> str:
    """What was found, where, what is allowed, what to do; the whole help if nothing was asked."""
    context, parameter = getattr(error, "ctx", None), getattr(error, "param", None)
    if context is not None and error.message == context.get_help():
        return error.message
    hint = "" if context is None else f"; {_help_of(context)} tells more"
    if parameter is not None:
        where = parameter.get_error_hint().strip("'")
        return one_line(f"{where}: {_must_be(error) or f'must be given{hint}'}")
    option = getattr(error, "option_name", None)
    if option is None:
        return one_line(f"{error.format_message().rstrip('.')}{hint}")
    return one_line(f"{_cut(option)}: {_of_option(error, option, words)}")


def _must_be(error: typer.TyperException) -> str:
    """What a value must be, and was; empty if there was none."""
    from radiosim.scenario.problems import shown

    # The library's own error has the value, which its words leave out.
    found: list[Any] = getattr(error.__cause__, "errors", list)()
    if not found:
        return error.message.rstrip(".")
    first = found[0]
    kind, value = getattr(error, "param", None), first["input"]
    if {"ge", "le"} & set(first.get("ctx", {})):
        # What is beyond an edge is a number, though it is still the text that was typed.
        descriptor = getattr(kind, "type_descriptor", None)
        is_whole = getattr(descriptor, "annotation", None) is int
        noun = "a whole number" if is_whole else "a number"
        return f"must be {noun}{_edges_of(kind)}, got {_cut(str(value))}"
    allowed = _MUST_BE.get(first["type"])
    rule = first["msg"] if allowed is None else f"must be {allowed}{_edges_of(kind)}"
    return f"{rule}, got {shown(value)}"


def _edges_of(parameter: Any) -> str:
    """The lowest and the highest value of an option, in words; empty where it has none."""
    low, high = (getattr(parameter, end, None) for end in ("min", "max"))
    return "" if low is None or high is None else f" >= {edge_text(low)} and <= {edge_text(high)}"


def _of_option(error: typer.TyperException, option: str, words: Sequence[str]) -> str:
    """What is wrong with an option as such: it is unknown, or lacks a value, or has one."""
    # Without the dashes, which make any two look alike.
    known = [name.lstrip("-") for name in getattr(error, "possibilities", None) or ()]
    context = getattr(error, "ctx", None)
    if context is not None:
        import difflib

        near = difflib.get_close_matches(option.lstrip("-"), known, n=1)
        hint = f", did you mean --{near[0]}?" if near else f"; {_help_of(context)} lists them"
        return f"must be an option of {context.command_path}{hint}"
    with_value = [word for word in words if word.startswith(f"{option}=")]
    return f"must stand alone, got {_cut(with_value[0])}" if with_value else "must have a value"


def _help_of(context: Any) -> str:
    return f"{context.command_path} --help"


def _cut(word: str) -> str:
    """A word as one printable line, its end left out if it is long."""
    if not word:
        return "''"
    return one_line(word if len(word) <= _LONGEST_WORD else f"{word[: _LONGEST_WORD - 1]}…")


def group_of(text: str | None = None) -> typer.Typer:
    """A group of commands, with plain help: a coloured one takes a library longer to load."""
    return typer.Typer(
        cls=Commands,
        rich_markup_mode=None,
        add_completion=False,
        pretty_exceptions_enable=False,
        no_args_is_help=True,
        help=text,
    )


def program() -> typer.Typer:
    """The group of all commands, without one yet."""
    app = group_of()
    app.callback()(_options)
    return app


def _print_version(is_asked: bool) -> None:
    if is_asked:
        # Flushed here, so that a reader who is gone is found out before the program ends.
        say(f"radiosim {VERSION}")
        sys.stdout.flush()
        raise typer.Exit


def _options(
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_print_version, is_eager=True, help="Print the version."
        ),
    ] = False,
    traceback: Annotated[
        bool,
        typer.Option(TRACEBACK, help="Print where in the program an unforeseen error came up."),
    ] = False,
) -> None:
    """Simulate a radio control link before any firmware is written."""
