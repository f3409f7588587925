"""Every public function is documented, and its docstring lists the parameters it really has."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from typing import Any

import click
import pytest

import strikeline

_SECTION = re.compile(r"^(?P<title>[A-Z][A-Za-z ]+)\n-+$", re.MULTILINE)
_FEW = 2
"""Up to so many parameters without default may be explained by the summary sentence alone."""


def _public() -> Iterator[tuple[str, Callable[..., Any]]]:
    """Return every public function, method and class of the package with its full name."""
    for info in pkgutil.walk_packages(strikeline.__path__, "strikeline."):
        if info.name.rpartition(".")[2].startswith("_"):
            continue
        module = importlib.import_module(info.name)
        for name, thing in vars(module).items():
            if name.startswith("_") or getattr(thing, "__module__", None) != module.__name__:
                continue
            if inspect.isfunction(thing) or inspect.isclass(thing):
                yield f"{module.__name__}.{name}", thing
            if inspect.isclass(thing):
                for method_name, method in vars(thing).items():
                    function = getattr(method, "__func__", method)
                    if not method_name.startswith("_") and inspect.isfunction(function):
                        yield f"{module.__name__}.{name}.{method_name}", function


PUBLIC = dict(_public())


def documented_parameters(docstring: str) -> list[str] | None:
    """Return the names under Parameters (and Other Parameters), or ``None`` without such a section."""
    pieces = _SECTION.split(docstring)
    sections = dict(zip(pieces[1::2], pieces[2::2], strict=True))
    listed = [text for title, text in sections.items() if title in {"Parameters", "Other Parameters"}]
    if not listed:
        return None
    heads = re.findall(r"^(\*{0,2}\w[\w, *]*?)(?: ?:.*)?$", "\n".join(listed), re.MULTILINE)
    return [name.strip().lstrip("*") for head in heads for name in head.split(",")]


def test_the_reader_of_docstrings_sees_names_types_and_sections() -> None:
    parameters = "Parameters\n----------\na, b : int\n    Two.\nc : float, optional\n    One.\n\n"
    text = f"Do it.\n\n{parameters}Returns\n-------\nint\n"
    assert documented_parameters(text) == ["a", "b", "c"]
    assert documented_parameters("Do it.") is None


def test_the_walk_sees_the_package() -> None:
    assert "strikeline.bootstrap.hearing.listen" in PUBLIC
    assert "strikeline.keyboard.Compass.parse" in PUBLIC


@pytest.mark.parametrize("name", PUBLIC)
def test_everything_public_has_a_docstring(name: str) -> None:
    thing = PUBLIC[name]
    if inspect.isclass(thing) and issubclass(thing, Exception | tuple):
        return
    assert (inspect.getdoc(thing) or "").strip(), f"{name} has no docstring"


@pytest.mark.parametrize("name", [name for name, thing in PUBLIC.items() if inspect.isfunction(thing)])
def test_the_docstring_lists_the_parameters_of_the_signature(name: str) -> None:
    parameters = [p for p in inspect.signature(PUBLIC[name]).parameters.values() if p.name not in {"self", "cls"}]
    documented = documented_parameters(inspect.getdoc(PUBLIC[name]) or "")
    if documented is None:
        required = [p.name for p in parameters if p.default is p.empty]
        assert len(required) <= _FEW, f"{name} takes {required} and documents none of them"
        return
    by_place = [p.name for p in parameters if p.kind is not p.KEYWORD_ONLY]
    by_name = {p.name for p in parameters if p.kind is p.KEYWORD_ONLY}
    # Keywords have no order: a docstring may gather those that are explained together.
    assert [one for one in documented if one not in by_name] == by_place
    assert sorted(one for one in documented if one in by_name) == sorted(by_name)


def test_click_commands_are_functions_of_their_own() -> None:
    # They are wrapped in click.Command, so the walk above does not see them; --help is their documentation.
    from strikeline.cli.main import cli

    for command in cli.commands.values():
        assert isinstance(command, click.Command)
        assert command.help, f"{command.name} explains nothing"
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.help, f"{command.name} {parameter.opts[0]} explains nothing"
