"""The `cupgeom` command: finds the subcommand, and is the one place where errors become exit codes."""

from __future__ import annotations

import sys
from importlib import import_module

import click

from cupgeom import __version__

COMMANDS = {
    "area": "Area, slant, flat radii and circumferences of a cup.",
    "template": "A wrap template at true scale, as SVG or PDF.",
}


class Commands(click.Group):
    """Loads the module of a subcommand when it is asked for, so that the start is quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """All subcommands, in the order of the job."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The subcommand of a name, None when there is none."""
        if cmd_name not in COMMANDS:
            return None
        module = import_module(f".{cmd_name}", __package__)
        command: click.Command = module.command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The subcommand that is asked for; a mistyped one gets the nearest name."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            from difflib import get_close_matches

            near = get_close_matches(args[0], COMMANDS, 1)
            hint = f"did you mean {near[0]}?" if near else f"use {', '.join(COMMANDS)}"
            raise click.UsageError(f"no command {args[0]!r}; {hint}", ctx=None)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of subcommands, without loading them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.command(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="cupgeom")
def cupgeom() -> None:
    """Geometry for hand-decorated drink cups: wraps, templates and areas at true scale.

    A cup is given by --rim, --base and --height. Lengths take mm (a plain number), cm, in and
    fractions: 88, 8.8cm, "3 1/2 in".
    """


def main(args: list[str] | None = None) -> None:
    """Run the command line: 0 done, 1 could not do it, 2 bad input, 130 stopped."""
    sys.exit(run(args))


def run(args: list[str] | None = None) -> int:
    """The exit code of one command; one line on stderr says what was wrong."""
    from cupgeom.errors import CupgeomError

    try:
        result = cupgeom.main(args=args, prog_name="cupgeom", standalone_mode=False)
    except click.exceptions.Abort:
        return _say("stopped; nothing was changed", 130)
    except (click.ClickException, CupgeomError) as error:
        message = error.format_message() if isinstance(error, click.ClickException) else str(error)
        return _say(" ".join(message.split()), 2)
    except BrokenPipeError:
        sys.stderr.close()  # the reader went away; nobody is left to tell
        return 1
    except OSError as error:
        reason = error.strerror or str(error)
        return _say(f"{error.filename}: {reason}" if error.filename else reason, 1)
    except KeyboardInterrupt:
        return _say("stopped; nothing was changed", 130)
    return result if isinstance(result, int) else 0


def _say(message: str, code: int) -> int:
    click.echo(f"cupgeom: {message}", err=True)
    return code
