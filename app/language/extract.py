"""Finds every text that the program may say through ``tr``, by reading its source; ``python -m app.language.extract``.

Three ways of asking are known: ``self.tr("…")`` in a class, whose name is the context (also under a shorter name);
``translate("Context", "…")``;
and functions that hand their argument on to one of these, under whatever name a module imports them.
"""

from __future__ import annotations

import ast
import json
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final, get_type_hints

import msgspec

from app.settings import Settings
from core.design.setup import FIGURES
from samples import SAMPLES

ROOT: Final = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Asked:
    """A text with the context by which it is asked for, and where."""

    context: str
    text: str
    where: str


@dataclass(frozen=True)
class Unclear:
    """A place where what is asked for cannot be read from the source."""

    where: str
    function: str
    source: str


@dataclass(frozen=True)
class Helper:
    """A function that asks in its caller's stead: its fixed context, and the places of its own arguments."""

    context: str | None
    context_at: int | None
    text_at: int


def from_settings() -> Iterator[tuple[str, str]]:
    """Titles, sentences and choices of the settings."""
    for hint in get_type_hints(Settings, include_extras=True).values():
        for meta in getattr(hint, "__metadata__", ()):
            if isinstance(meta, msgspec.Meta) and meta.extra:
                texts = (meta.title, meta.description, *meta.extra["words"].values())
                yield from (("Settings", text) for text in texts if text)


def from_setup() -> Iterator[tuple[str, str]]:
    """Labels of the print setup, and where its defaults come from."""
    for f in FIGURES:
        yield from (("SetupDialog", str(f.metadata[key])) for key in ("label", "source"))


def from_samples() -> Iterator[tuple[str, str]]:
    """Titles of the samples and what is said about them."""
    for sample in SAMPLES:
        yield from (("Samples", text) for text in (sample.title, sample.line))


#: Texts that are asked for by a name, with what lists them.
LISTED: Final[tuple[Callable[[], Iterable[tuple[str, str]]], ...]] = (from_settings, from_setup, from_samples)


def everything(root: Path = ROOT) -> tuple[list[Asked], list[Unclear]]:
    """All texts of the window, and the places that could not be read."""
    modules = {_name(path, root): ast.parse(path.read_text(encoding="utf-8")) for path in _sources(root)}
    helpers = {name: _helpers(tree) for name, tree in modules.items()}
    asked, unclear = [], []
    for name, tree in modules.items():
        reader = _Reader(name, {**helpers[name], **_imported(tree, helpers)})
        reader.visit(tree)
        asked += reader.asked
        unclear += reader.unclear
    asked += [Asked(context, text, "listed") for source in LISTED for context, text in source()]
    return asked, unclear


def catalogue_of(asked: Iterable[Asked]) -> dict[str, dict[str, str]]:
    """Contexts with their texts in order, translations empty."""
    out: dict[str, dict[str, str]] = {}
    for one in sorted(asked, key=lambda a: (a.context, a.text)):
        out.setdefault(one.context, {})[one.text] = ""
    return out


def _sources(root: Path) -> list[Path]:
    return sorted(p for p in (root / "app").rglob("*.py") if "commands" not in p.parts)


def _name(path: Path, root: Path) -> str:
    return ".".join(path.relative_to(root).with_suffix("").parts).removesuffix(".__init__")


def _helpers(tree: ast.Module) -> dict[str, Helper]:
    """Functions of a module that hand their argument on, by name."""
    out: dict[str, Helper] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            names = [a.arg for a in node.args.args]
            for call in (c for r in ast.walk(node) if isinstance(r, ast.Return) for c in ast.walk(r)):
                if isinstance(call, ast.Call) and _called(call) == "translate" and len(call.args) >= 2:
                    helper = _helper(call, names)
                    if helper is not None:
                        out[node.name] = helper
    return out


def _helper(call: ast.Call, names: list[str]) -> Helper | None:
    context, text = call.args[0], call.args[1]
    if not (isinstance(text, ast.Name) and text.id in names):
        return None
    if isinstance(context, ast.Name) and context.id in names:
        return Helper(None, names.index(context.id), names.index(text.id))
    fixed = _literal(context)
    return None if fixed is None else Helper(fixed, None, names.index(text.id))


def _imported(tree: ast.Module, helpers: dict[str, dict[str, Helper]]) -> dict[str, Helper]:
    out = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module in helpers:
            for alias in node.names:
                if alias.name in helpers[node.module]:
                    out[alias.asname or alias.name] = helpers[node.module][alias.name]
    return out


def _called(call: ast.Call) -> str:
    if isinstance(call.func, ast.Attribute):
        return call.func.attr
    return call.func.id if isinstance(call.func, ast.Name) else ""


def _literal(node: ast.expr) -> str | None:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


class _Reader(ast.NodeVisitor):
    """Reads one module."""

    def __init__(self, module: str, helpers: dict[str, Helper]) -> None:
        self.module, self._helpers = module, helpers
        self.asked: list[Asked] = []
        self.unclear: list[Unclear] = []
        self._classes: list[str] = []
        self._functions: list[str] = []
        self._aliases: set[str] = set()

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        self._classes.append(node.name)
        self.generic_visit(node)
        self._classes.pop()

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        self._functions.append(node.name)
        self.generic_visit(node)
        self._functions.pop()

    def visit_Assign(self, node: ast.Assign) -> None:
        """``tr = self.tr`` gives the asking a shorter name."""
        if isinstance(node.value, ast.Attribute) and node.value.attr == "tr":
            self._aliases |= {target.id for target in node.targets if isinstance(target, ast.Name)}
        self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        name = _called(node)
        if name in self._helpers and isinstance(node.func, ast.Name):
            self._take_helper(node, self._helpers[name])
        elif node.args and ((isinstance(node.func, ast.Attribute) and name == "tr") or name in self._aliases):
            self._take(node, self._classes[-1] if self._classes else None, node.args[0])
        elif name == "translate" and len(node.args) >= 2 and not _is_painting(node):
            self._take(node, _literal(node.args[0]), node.args[1])
        self.generic_visit(node)

    def _take_helper(self, node: ast.Call, helper: Helper) -> None:
        if len(node.args) > helper.text_at:
            context = helper.context if helper.context_at is None else _literal(node.args[helper.context_at])
            self._take(node, context, node.args[helper.text_at])

    def _take(self, node: ast.Call, context: str | None, text: ast.expr) -> None:
        where = f"{self.module}:{node.lineno}"
        function = self._functions[-1] if self._functions else ""
        if isinstance(text, ast.IfExp):
            self._take(node, context, text.body)
            self._take(node, context, text.orelse)
            return
        said = _literal(text)
        if said is not None and context is not None:
            self.asked.append(Asked(context, said, where))
        elif function not in self._helpers:
            self.unclear.append(Unclear(where, function, ast.unparse(node)))


def _is_painting(node: ast.Call) -> bool:
    """``painter.translate(x, y)`` moves the pen and says nothing."""
    owner = node.func.value if isinstance(node.func, ast.Attribute) else None
    return isinstance(owner, ast.Name) and owner.id != "QCoreApplication"


def main() -> None:
    """Bring the catalogue of a language up to date: new texts stand in it empty, old ones are gone."""
    language = sys.argv[1] if len(sys.argv) > 1 else "de"
    path = Path(__file__).with_name(f"{language}.json")
    old = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
    asked, unclear = everything()
    fresh = catalogue_of(asked)
    known = {text: words for texts in old.values() for text, words in texts.items() if words}
    for context, texts in fresh.items():
        for text in texts:
            texts[text] = old.get(context, {}).get(text) or known.get(text, "")
    path.write_text(json.dumps(fresh, ensure_ascii=False, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    missing = sum(not words for texts in fresh.values() for words in texts.values())
    print(f"{sum(map(len, fresh.values()))} texts, {missing} of them not translated yet.")
    for one in unclear:
        print(f"Cannot be read: {one.where} in {one.function}: {one.source}")


if __name__ == "__main__":
    main()
