"""The `cupgeom` command: finds the subcommand, and is the one place where errors become exit codes."""

from __future__ import annotations

import io
import sys
from collections.abc import Iterable
from importlib import import_module

import click

import cupgeom

COMMANDS = {
    "area": "Area, slant, flat radii and circumferences of a cup.",
    "measure": "A cup from tape, calliper and ruler, with what is certain about it.",
    "decal": "Artwork or lettering bent so that it reads level on the wall.",
    "template": "A wrap template at true scale, as SVG or PDF.",
    "sheet": "Many decals on few sheets, packed by their true shape.",
    "resin": "Millilitres of resin coat by coat, and whether the rack holds them.",
    "job": "Everything for one order: templates, decals, plan, cost, proof, sheet.",
    "plan": "The work of one or more jobs, hour by hour, and what is due now.",
    "cost": "What an order costs, its price, and what to buy for it.",
    "proof": "What the customer sees and approves: views, a turning cup, the mark.",
}
EXAMPLES = """\b
Examples:
  cupgeom area --rim 88mm --base 70mm --height 170mm
  cupgeom template --help"""


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
        if args and args[0] not in COMMANDS:
            hint = _nearest(args[0], COMMANDS, f"use {', '.join(COMMANDS)}")
            raise click.UsageError(f"no command {args[0]!r}; {hint}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of subcommands, without loading them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.command(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "terminal_width": 80},
    invoke_without_command=True,
    epilog=EXAMPLES,
)
@click.version_option(cupgeom.__version__, prog_name="cupgeom")
@click.pass_context
def program(ctx: click.Context) -> None:
    """Geometry for hand-decorated drink cups: wraps, templates and areas at true scale.

    A cup is given by --rim, --base and --height. A plain number is mm; cm, in and fractions of an inch
    are understood too.
    """
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


def main(args: list[str] | None = None) -> None:
    """Run the command line: 0 done, 1 could not do it, 2 bad input, 130 stopped."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a letter that the console lacks stops nothing
    sys.exit(run(args))


def run(args: list[str] | None = None) -> int:
    """The exit code of one command; one line on stderr says what was wrong.

    When the reader of stdout goes away, click ends the process itself, with 1 and without a word.
    """
    try:
        result = program.main(args=args, prog_name="cupgeom", standalone_mode=False)
    except (click.exceptions.Abort, KeyboardInterrupt):
        return _say("stopped; nothing was changed", 130)
    except click.ClickException as error:
        return _say(_fault(error), 2)
    except cupgeom.CupgeomError as error:
        for fault in getattr(error, "faults", (error,)):
            _say(str(fault), 2)
        return 2
    except OSError as error:
        reason = error.strerror or str(error)
        return _say(f"{error.filename}: {reason}" if error.filename else reason, 1)
    return result if isinstance(result, int) else 0


def _fault(error: click.ClickException) -> str:
    """What click found wrong, in the form of our own errors: the option, what is wrong, what would do."""
    if isinstance(error, click.NoSuchOption) and error.ctx is not None:
        options = [name for param in error.ctx.command.get_params(error.ctx) for name in param.opts]
        hint = _nearest(error.option_name, options, f"see {error.ctx.command_path} --help")
        return f"no option {error.option_name}; {hint}"
    if isinstance(error, click.MissingParameter) and error.param is not None:
        return f"{error.param.opts[-1]}: is missing; see cupgeom {error.ctx.info_name if error.ctx else ''} --help"
    if isinstance(error, click.BadParameter) and error.param is not None:
        return f"{error.param.opts[-1]}: {error.message.rstrip('.')}"
    return error.format_message()


def _nearest(word: str, words: Iterable[str], otherwise: str) -> str:
    from difflib import get_close_matches

    near = get_close_matches(word, list(words), 1)
    return f"did you mean {near[0]}?" if near else otherwise


def _say(message: str, code: int) -> int:
    """One line on stderr, whatever was typed."""
    click.echo(f"cupgeom: {' '.join(message.splitlines())}", err=True)
    return code
