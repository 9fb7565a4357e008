"""How the commands speak: tables and progress on a terminal, plain lines in a pipe, JSON when asked.

Results go to standard output and everything else to standard error, so that a pipe carries nothing but results.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

Progress = Callable[[float, str], None]


def print_json(data: Any) -> None:
    """One JSON value. Plain ASCII, so that no code page of a terminal or pipe can spoil it."""
    print(json.dumps(data, indent=1, allow_nan=False))


def say(text: str) -> None:
    """One line to the person, beside the results."""
    print(one_line(text), file=sys.stderr, flush=True)


def one_line(text: str) -> str:
    """Text with line breaks and other control characters made harmless.

    >>> one_line("two\\nlines")
    'two lines'
    """
    return "".join(c if c.isprintable() else " " for c in " ".join(str(text).split()))


def heading(text: str) -> None:
    """A line above what follows."""
    if sys.stdout.isatty():
        from rich.console import Console
        from rich.text import Text

        Console().print(Text(one_line(text), style="bold"))
    else:
        print(one_line(text))


def table(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """A table: drawn on a terminal, columns set apart by two blanks in a pipe. Nothing for no rows."""
    if not rows:
        return
    clean = [[one_line(cell) for cell in row] for row in rows]
    if sys.stdout.isatty():
        _drawn(columns, clean)
        return
    lines = [list(columns), *clean]
    widths = [max(len(line[i]) for line in lines) for i in range(len(columns))]
    for line in lines:
        print("  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip())


def _drawn(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    from rich.box import SIMPLE_HEAD
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    drawn = Table(box=SIMPLE_HEAD, pad_edge=False)
    for name in columns:
        drawn.add_column(name, overflow="fold")
    for row in rows:
        drawn.add_row(*(Text(cell) for cell in row))
    Console().print(drawn)


@contextmanager
def progress_bar(title: str) -> Iterator[Progress]:
    """A bar on standard error when that is a terminal; elsewhere what is reported goes nowhere."""
    if not sys.stderr.isatty():
        yield lambda _fraction, _text: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    columns = (TextColumn("{task.fields[title]}"), BarColumn(), TextColumn("{task.description}"))
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=1.0, title=one_line(title))

        def report(fraction: float, text: str) -> None:
            bar.update(task, completed=fraction, description=one_line(text))

        yield report
