"""The manual pages, made from what ``--help`` is made from: ``python -m app.manual`` writes them into ``app/man``.

The pages are roff with the macros of man(7). They carry no version and no day, so that they change only when the
commands do; a test holds them against the commands.
"""

from __future__ import annotations

import io
import re
from inspect import cleandoc
from pathlib import Path
from typing import TYPE_CHECKING, Any

from app.main import COMMANDS, build

if TYPE_CHECKING:
    from cyclopts import App
    from cyclopts.help import HelpEntry, HelpPanel
    from rich.console import Console, ConsoleOptions

FOLDER = Path(__file__).parent / "man"
#: So wide that nothing is broken into lines before roff does it.
_WIDE = 10_000


class ManFormatter:
    """Takes the parts of a help page from the command line library and keeps them as roff."""

    def __init__(self) -> None:
        self.usage, self.description, self.sections = "", "", ""

    def __call__(self, console: Console, options: ConsoleOptions, panel: HelpPanel) -> None:
        """One panel of a help page."""
        entries = [entry for entry in panel.entries if entry.display_labels]
        if not entries:
            return
        self.sections += f'.SH "{_roff(_plain(panel.title).upper())}"\n'
        self.sections += "".join(_entry(entry) for entry in entries)

    def render_usage(self, console: Console, options: ConsoleOptions, usage: Any) -> None:
        """How the command is called."""
        self.usage = _plain(usage)

    def render_description(self, console: Console, options: ConsoleOptions, description: Any) -> None:
        """What the command does."""
        self.description = _plain(description)


def pages() -> dict[str, str]:
    """Every manual page, by the name of its file."""
    names = ["", *COMMANDS]
    return {f"{'-'.join(filter(None, ('snapcomb', name)))}.1": page(name) for name in names}


def page(command: str) -> str:
    """The manual page of a command, or of the whole program for an empty name."""
    from rich.console import Console  # noqa: PLC0415 - only the pages need it

    seen = ManFormatter()
    app = build(seen)
    app.help_print([command] if command else [], console=Console(file=io.StringIO(), width=_WIDE))
    name = f"snapcomb-{command}" if command else "snapcomb"
    about = COMMANDS.get(command, seen.description).rstrip(".")
    calls = [line.strip() for line in seen.usage.removeprefix("Usage:").strip().splitlines() if line.strip()]
    calls = [call.removeprefix("Usage:").strip() for call in calls]
    told, statuses = _told(app, command, seen.description)
    others = [f"snapcomb-{other}" for other in COMMANDS if other != command]
    also = " ,\n".join(f".BR {_roff(other)} (1)" for other in (["snapcomb"] if command else []) + others)
    return (
        f'.TH "{_roff(name.upper())}" 1 "" "Snapcomb" "Snapcomb"\n'
        f".SH NAME\n{_roff(name)} \\- {_roff(about)}\n"
        f".SH SYNOPSIS\n{_calls(calls)}"
        f".SH DESCRIPTION\n{told}"
        f"{seen.sections}"
        f'.SH "EXIT STATUS"\n{statuses}'
        ".SH CAUTION\nAll forces and sags are estimates. Wear eye protection when you snap teeth off.\n"
        ".SH LICENCE\nMIT.\n"
        f'.SH "SEE ALSO"\n{also}\n'
    )


def _calls(calls: list[str]) -> str:
    """One line each: the program's words bold."""
    out = []
    for call in calls:
        words = [f"\\fB{_roff(w)}\\fR" if w.islower() else _roff(w) for w in call.split()]
        out.append(" ".join(words))
    return "\n.br\n".join(out) + "\n"


def _told(app: App, command: str, description: str) -> tuple[str, str]:
    """What a command does, as its function tells it, and its statuses: its own where it names them, else the usual."""
    function = app[command].default_command if command else None
    text = cleandoc(function.__doc__ or "") if function else description
    paragraphs = [" ".join(p.split()) for p in text.split("\n\n")]
    own = next((p for p in paragraphs if p.startswith("Exit status")), str(app.help_epilogue or ""))
    told = [_roff(p.replace("``", "")) for p in paragraphs if p != own]
    return "\n.PP\n".join(told) + "\n", _statuses(own)


def _statuses(sentence: str) -> str:
    """The statuses in a sentence such as “Exit status: 0 done, 1 something else.”"""
    parts = re.split(r"(?:^|[,:] )(?=\d )", sentence.rstrip(".").removeprefix("Exit status").removeprefix(" "))
    found = [part.split(" ", 1) for part in parts if part[:1].isdigit()]
    return "".join(f".TP\n.B {number}\n{_roff(words.strip().capitalize())}.\n" for number, words in found)


def _entry(entry: HelpEntry) -> str:
    labels = ", ".join(f"\\fB{_roff(name)}\\fR" for name in entry.display_labels)
    value = f" \\fI{_roff(entry.metavar)}\\fR" if entry.metavar and entry.names else ""
    words = [_plain(entry.description)]
    if entry.choices:
        words.append(f"One of: {', '.join(entry.choices)}.")
    if entry.default not in (None, "False", False):
        words.append(f"Default: {entry.default}.")
    if entry.required:
        words.append("Required.")
    return f".TP\n{labels}{value}\n{_roff(' '.join(w for w in words if w))}\n"


def _plain(text: Any) -> str:
    """Words without their styles, each paragraph in one line."""
    from cyclopts.help.formatters.plain import _to_plain_text  # noqa: PLC0415
    from rich.console import Console  # noqa: PLC0415

    said = _to_plain_text(text, Console(file=io.StringIO(), width=_WIDE))
    return "\n".join(" ".join(line.split()) for line in said.strip().splitlines() if line.strip())


def _roff(text: str) -> str:
    """Text as roff takes it: a backslash, a hyphen and a leading dot or quote mean something there."""
    text = text.replace("\\", "\\e").replace("-", "\\-")
    return re.sub(r"(?m)^([.'])", r"\\&\1", text).replace('"', "\\(dq")


def main() -> None:
    """Write the pages anew."""
    FOLDER.mkdir(exist_ok=True)
    for name, text in pages().items():
        (FOLDER / name).write_text(text, encoding="utf-8")
        print(FOLDER / name)


if __name__ == "__main__":
    main()
