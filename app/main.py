"""The one program: the window, and the commands that need no display.

Exit status: 0 done; 1 done, but something needs a person; 2 bad usage; 3 nothing could be read, or it is refused.
Libraries that take long to import are left to the command that needs them, so that ``--help`` is there at once.
"""

from __future__ import annotations

import contextlib
import os
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any

from cyclopts import App, CycloptsError, Parameter

from app.commands.output import say
from app.commands.status import BAD_USAGE, DONE, INTERRUPTED, NEEDS_A_PERSON, REFUSED, UsageError, program_version
from core.errors import BadValue, NeedsChoice, SnapcombError

COMMANDS = {
    "inspect": "Say what will sag, which gaps there are and which rows each would get.",
    "fit": "Size rows of teeth, add them to a mesh and write it.",
    "apply": "Run a saved job again and write the mesh.",
    "sheet": "Write the job sheet with pictures.",
    "coupon": "Write the break-off test piece.",
    "doctor": "Tell versions, renderer and missing system libraries; put Snapcomb into the desktop's menus.",
}

_GAP = re.compile(r"^[A-Za-z]{0,4}\d+$")


def open_window(
    file: Annotated[Path | None, Parameter(metavar="FILE", help="A mesh or a job to open.")] = None, /
) -> int:
    """Open the window, on a mesh or a job file."""
    _vet_file(file)
    _vet_display()
    try:
        from app.window import run
    except ImportError as error:
        raise SnapcombError(
            f"The window cannot start: {error}.", "Run “snapcomb doctor”, which names the packages to install."
        ) from error
    return int(run(file) or 0)


def _vet_file(file: Path | None) -> None:
    """A word that is no file may be a slip in the name of a command."""
    if file is None or file.exists():
        return
    from difflib import get_close_matches

    near = get_close_matches(str(file), COMMANDS, n=1)
    hint = f"Did you mean “snapcomb {near[0]}”?" if near else "Check the path; the file may have been moved."
    raise SnapcombError(f"There is no file “{file}”.", hint)


def _vet_display() -> None:
    """Without a display the toolkit would end the whole process before it could say why."""
    if sys.platform != "linux" or any(os.environ.get(v) for v in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")):
        return
    raise SnapcombError("The window needs a display, and there is none.", "Use “snapcomb inspect” and “snapcomb fit”.")


def build(formatter: Any = None) -> App:
    """The command line, with every command by the name of its function so that none is imported early.

    ``formatter`` shows help in another way than terminals and pipes have it.
    """
    plain = not (sys.stdout.isatty() and sys.stderr.isatty())
    app = App(
        name="snapcomb",
        usage="Usage: snapcomb [FILE]\n       snapcomb COMMAND …",
        help="Breakaway teeth under edges of a mesh that would sag when it is printed.",
        version=lambda: f"Snapcomb {program_version()}, under the MIT licence",
        help_epilogue="Exit status: 0 done, 1 done but something needs a person, 2 bad usage, 3 nothing could be read.",
        help_formatter=formatter or ("plain" if plain else "default"),
        default_command=open_window,
    )
    for name, text in COMMANDS.items():
        app.command(f"app.commands.{name}:{name}", name=name, help=text)
    return app


def tidied(tokens: Sequence[str]) -> list[str]:
    """Arguments in the one form that parses without doubt.

    ``--gap`` takes as many gap numbers as follow it and no more, so that a file may come after them; a direction that
    begins with a minus sign belongs to its ``--up``.

    >>> tidied(["fit", "--gap", "1", "2", "hood.stl", "--up", "-1,0,0"])
    ['fit', '--gap=1', '--gap=2', 'hood.stl', '--up=-1,0,0']
    """
    out: list[str] = []
    rest = list(tokens)
    while rest:
        word = rest.pop(0)
        if word == "--":
            return [*out, word, *rest]
        if word == "--gap" and rest and _GAP.match(rest[0]):
            while rest and _GAP.match(rest[0]):
                out.append(f"--gap={rest.pop(0)}")
        elif word == "--up" and rest:
            out.append(f"--up={rest.pop(0)}")
        else:
            out.append(word)
    return out


def run(tokens: Sequence[str]) -> int:
    """Run the program with these arguments and return the exit status."""
    try:
        code = build()(tidied(tokens), exit_on_error=False, print_error=False, result_action="return_value")
        sys.stdout.flush()
        return code if isinstance(code, int) else DONE
    except (CycloptsError, SnapcombError) as error:
        return _said(error)
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        return _reader_went_away()


def _said(error: Exception) -> int:
    """Tell a foreseen problem in one line; the status that goes with it."""
    if isinstance(error, CycloptsError):
        say(f"{error} See “snapcomb --help”.")
    elif isinstance(error, NeedsChoice):
        say(f"{error} Answer with --choice {' or --choice '.join(error.choices)}.")
    else:
        say(str(error))
    return BAD_USAGE if isinstance(error, CycloptsError | UsageError | BadValue) else REFUSED


def _reader_went_away() -> int:
    """Whoever read our output has closed it; nothing more can be said there, also not while Python shuts down."""
    with contextlib.suppress(OSError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return NEEDS_A_PERSON


def _note(error: Exception) -> str:
    from traceback import format_exception

    try:
        from app.keeping.places import state_folder

        path = state_folder() / "failure.log"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("".join(format_exception(error)), encoding="utf-8")
    except (ImportError, OSError):
        return "The details could not be kept."
    return f"Details are in {path}."


def main() -> None:
    """The entry point."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a character that a console lacks must not end the program
    try:
        code = run(sys.argv[1:])
    except Exception as error:  # a fault of the program's own: one line for the person, the traceback into a file
        say(f"Snapcomb failed ({type(error).__name__}: {error}). {_note(error)}")
        code = REFUSED
    sys.exit(code)
