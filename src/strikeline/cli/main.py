"""The command ``strikeline``: its commands, and the one place where errors become words and exit codes.

Nothing heavy is imported here: ``strikeline --help`` answers at once.
"""

from __future__ import annotations

import io
import os
import sys
import traceback
from collections.abc import Sequence
from typing import Final

import click

from strikeline import __version__
from strikeline.cli.bearing import bearing
from strikeline.cli.climate import climate
from strikeline.cli.colour import colour
from strikeline.cli.compare import compare
from strikeline.cli.dampers import dampers
from strikeline.cli.demo import demo
from strikeline.cli.finish import finish
from strikeline.cli.gloss import gloss
from strikeline.cli.hammers import hammers
from strikeline.cli.ivory import ivory
from strikeline.cli.keys import keys
from strikeline.cli.keytops import keytops
from strikeline.cli.listen import listen
from strikeline.cli.look import look
from strikeline.cli.one_string import string
from strikeline.cli.pins import pins
from strikeline.cli.pitch import pitch
from strikeline.cli.readings import readings
from strikeline.cli.regulate import regulate
from strikeline.cli.scale import scale
from strikeline.cli.seat import seat
from strikeline.cli.sheet import sheet
from strikeline.cli.touch import centres, touch
from strikeline.cli.tune import tune
from strikeline.cli.unison import unison
from strikeline.cli.wire import wire
from strikeline.errors import InputError, NotFoundError, SignalError, StoreError

EXIT_NOTHING_MEASURABLE: Final = 1
EXIT_USAGE: Final = 2
EXIT_FILES: Final = 3
EXIT_FAULT: Final = 70
"""A fault of the program itself, as in the BSD header sysexits.h (EX_SOFTWARE)."""
EXIT_INTERRUPTED: Final = 130
"""128 + SIGINT, as shells report it."""

_EPILOG: Final = """\b
Exit codes:
  0    done
  1    the sound holds nothing that can be measured
  2    a wrong option or value
  3    a file cannot be read or written
  70   a fault of strikeline itself
  130  stopped by the user; what was found is kept and named as partial
"""


@click.group(epilog=_EPILOG, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="strikeline", message="%(prog)s %(version)s")
@click.option("--debug", is_flag=True, help="Show where in the program an error arose.")
def cli(debug: bool) -> None:
    """Play once up the keyboard, and read note by note what condition the piano is in."""


for command in (
    listen,
    sheet,
    compare,
    unison,
    tune,
    pitch,
    readings,
    regulate,
    hammers,
    touch,
    centres,
    dampers,
    keys,
    keytops,
    look,
    seat,
    ivory,
    demo,
    string,
    wire,
    scale,
    bearing,
    pins,
    climate,
    colour,
    gloss,
    finish,
):
    cli.add_command(command)


def main() -> None:
    """Run the command with the process's arguments and leave with its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal without ± shows ? instead of an error
    code = run(sys.argv[1:])
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        _close_quietly()
    sys.exit(code)


def run(arguments: Sequence[str]) -> int:
    """Run the command and return its exit code; every error is told on standard error in a sentence."""
    debug = "--debug" in arguments[:1]
    try:
        code = cli.main(list(arguments), prog_name="strikeline", standalone_mode=False)
    except click.exceptions.NoArgsIsHelpError as help_wanted:
        help_wanted.show()
        return EXIT_USAGE
    except click.ClickException as error:
        error.show()
        return EXIT_USAGE
    except (click.Abort, KeyboardInterrupt):
        return _say("stopped by the user; nothing was found yet", EXIT_INTERRUPTED)
    except BrokenPipeError:
        _close_quietly()  # the reader, for example `head`, has seen enough
        return 0
    except Exception as error:
        if debug:
            traceback.print_exc()
        return _told(error)
    return int(code or 0)


def _told(error: Exception) -> int:
    """Tell an error in a sentence and return its exit code."""
    for kinds, code in _CODES:
        if isinstance(error, kinds):
            return _say(_sentence(error), code)
    fault = f"a fault of strikeline itself: {type(error).__name__}: {error}"
    return _say(f"{fault}\nstrikeline --debug … shows where; please report it", EXIT_FAULT)


_CODES: Final = (
    (SignalError, EXIT_NOTHING_MEASURABLE),
    (InputError, EXIT_USAGE),
    ((StoreError, NotFoundError, OSError, MemoryError), EXIT_FILES),
)


def _sentence(error: Exception) -> str:
    if isinstance(error, OSError):
        where = f"{error.filename}: " if error.filename else ""
        return f"{where}{error.strerror or error}"
    return "there is not enough memory for this" if isinstance(error, MemoryError) else str(error)


def _say(sentence: str, code: int) -> int:
    click.echo(f"strikeline: {sentence}", err=True)
    return code


def _close_quietly() -> None:
    """Point standard output at nothing, so that Python's own last flush meets no closed pipe."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    main()
