"""The command line: the app, and the exit code of whatever goes wrong; the commands are in `commands/`."""

from __future__ import annotations

import gc
import sys
from importlib.metadata import version
from typing import Annotated, Any

import typer

from fem.commands.card import card
from fem.commands.cures import cures
from fem.commands.estimate import estimate
from fem.commands.explain import explain
from fem.commands.fit import fit
from fem.commands.lists import example, list_names, schema
from fem.commands.options import options
from fem.commands.protocol import protocol
from fem.commands.start import start
from fem.commands.sweep import sweep
from fem.commands.terminal import (
    BAD_INPUT,
    NO_MESHER,
    NOT_CONVERGED,
    PROGRAM,
    STOPPED,
    UNREAD,
    Refused,
    fill_closed,
    flush,
    put,
    say,
)
from fem.commands.verify import verify

# typer keeps its parser to itself; all that is wrong with a command line derives from this.
UsageError: Any = typer.BadParameter.__bases__[0]

app = typer.Typer(
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def main() -> None:
    """Run the command line and leave with its exit code."""
    fill_closed()
    if sys.stdout is None:
        say(f"{PROGRAM}: standard output is closed; /dev/null takes what nobody wants to read")
        sys.exit(BAD_INPUT)
    gc.set_threshold(
        200_000
    )  # loading makes objects by the ten thousand that stay: searched for cycles, 6 % of the time
    code = run(sys.argv[1:])
    flush()
    # Else the interpreter searches all that was ever loaded for cycles before it leaves: 0.15 s for nothing.
    gc.freeze()
    sys.exit(code)


def run(arguments: list[str]) -> int:
    """Run one command and return its exit code: 0, or as `terminal` names them."""
    from fem.errors import DoesNotFit, NotConverged, OutOfRange
    from fem.examples import UnknownExample
    from geometries.assembly.mesh import MesherUnavailable, MeshFailed

    try:
        code = int(app(args=arguments, prog_name=PROGRAM, standalone_mode=False) or 0)
        if code == STOPPED:  # newer typer turns Ctrl-C into its code without a word, older raises Abort
            say(f"{PROGRAM}: stopped")
        return code
    except UsageError as error:
        command = error.ctx.command_path if error.ctx is not None else PROGRAM
        say(f"{command}: {' '.join(error.format_message().split()).rstrip('.')} (see {command} --help)")
    except (Refused, UnknownExample, OutOfRange) as error:
        say(str(error))
    except DoesNotFit as error:
        for key, text in error.faults:
            say(f"{PROGRAM}: {key}: {text}")
    except NotConverged as error:
        say(f"{PROGRAM}: no convergence: {error}")
        return NOT_CONVERGED
    except MeshFailed as error:
        say(f"{PROGRAM}: no mesh: {error}")
        return NOT_CONVERGED
    except MesherUnavailable as error:
        say(f"{PROGRAM}: {error}")
        return NO_MESHER
    except (KeyboardInterrupt, typer.Abort):
        say(f"{PROGRAM}: stopped")
        return STOPPED
    except SystemExit:  # what typer makes of a reader of its help that stops early
        return UNREAD
    except OSError as error:
        say(": ".join(filter(None, (PROGRAM, error.filename, error.strerror or str(error)))))
    return BAD_INPUT


def _print_version(wanted: bool) -> None:
    if wanted:
        raise typer.Exit(put(f"{PROGRAM} {version(PROGRAM)}\n"))


@app.callback(invoke_without_command=True)
def top(
    context: typer.Context,
    show_version: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_print_version, is_eager=True)
    ] = False,
) -> None:
    """What a salvaged E-I transformer does after it is rewound with a few turns of thick cable.

    Begin with: rewound start, which asks for what a first job file needs; then: rewound estimate my.toml. Without a
    job file the built-in example is estimated, which rewound example prints.
    """
    if context.invoked_subcommand is None:
        raise typer.Exit(put(f"{context.get_help()}\n"))


app.command()(start)
app.command()(estimate)
app.command()(explain)
app.command()(example)
app.command("list")(list_names)
app.command()(schema)
app.command()(options)
app.command()(sweep)
app.command()(card)
app.command()(protocol)
app.command()(cures)
app.command()(fit)
app.command()(verify)
