"""The command line: mounts every command. Each module in `commands` imports what it works with only when it runs."""

from __future__ import annotations

import importlib
import os
import sys
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from isohume.dashboard.commands.console import ExitCode

# Modules in `commands`, in the order of the help; each holds `app`, a Typer application with one or more commands.
MODULES = (
    "demo",
    "read",
    "assess",
    "standing",
    "serve",
    "archive",
    "register",
    "watch",
    "digest",
    "papers",
    "review",
    "forecast",
    "estimate",
    "estimate",
    "plan",
    "users",
)


class WholeSentences(TyperGroup):
    """A group whose help shows what each command does without cutting it short."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:  # noqa: ARG002 - the parser's own signature
        """Write one entry per command, in the order in which they were mounted."""
        rows = [(name, command.get_short_help_str(limit=1000)) for name, command in self.commands.items()]
        with formatter.section("Commands"):
            formatter.write_dl(rows)


app = typer.Typer(
    name="isohume",
    cls=WholeSentences,
    help="Shows whether sealed, buffered picture frames keep their humidity, from the files "
    "any data logger exports.\n\nWithout a command: serves the pages of your collection in the browser.\n\n"
    "Results go to stdout, remarks to stderr. Exit codes: 0 done; 1 done, but some files were refused; 2 usage; "
    "3 nothing could be read or found.",
    no_args_is_help=False,
    invoke_without_command=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,  # help is plain text: markup would swallow units in square brackets
    context_settings={"help_option_names": ["--help", "-h"]},
)
for module in MODULES:
    app.add_typer(importlib.import_module(f"isohume.dashboard.commands.{module}").app)


def print_version(wanted: bool) -> None:
    """Print the version and end."""
    if wanted:
        from importlib.metadata import version

        typer.echo(f"isohume {version('isohume')}")
        raise typer.Exit


@app.callback()
def start(
    context: typer.Context,
    version: Annotated[  # noqa: ARG001 - its callback does the work
        bool, typer.Option("--version", help="Print the version and end.", callback=print_version, is_eager=True)
    ] = False,
) -> None:
    """Serve the default archive when no command was given."""
    if context.invoked_subcommand is None:
        from isohume.dashboard.commands.serve import serve

        serve(open_browser=sys.stdout.isatty())


def main() -> None:
    """Run the command line; the entry point of the `isohume` script."""
    # Matrices here are small: several threads on each of them cost more than they bring. numpy reads this on import.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        app()
    except BrokenPipeError:
        # The reader of our output (head, less) has seen enough; closing stdout again would complain.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(ExitCode.DONE)


if __name__ == "__main__":
    main()
