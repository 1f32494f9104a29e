"""The program that commands belong to."""

from __future__ import annotations

from typing import Annotated

import typer

from viz.terminal import show

app = typer.Typer(
    name="fulltravel",
    help="See a suspension move through its whole travel: what binds, what runs out of angle or stroke, and where.",
    epilog="Begin with: fulltravel check scenes/wren_rear.toml",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _print_version(asked: bool) -> None:
    if asked:
        from importlib.metadata import version

        show(f"fulltravel {version('fulltravel')}\n")
        raise typer.Exit


@app.callback()
def _before_every_command(
    _version: Annotated[
        bool, typer.Option("--version", help="Print the version and stop.", is_eager=True, callback=_print_version)
    ] = False,
) -> None:
    pass
