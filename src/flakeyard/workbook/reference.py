"""The page of the front door, made from its docstrings."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator

import flakeyard
from flakeyard.messages import say

MODULES = {  # what is asked of them
    "check": ("run", "frame", "table"),
    "tables": ("frame", "ingredient", "kitchen", "pack"),
    "formulas": flakeyard.formulas.__all__,
    "study": tuple(name for name in flakeyard.study.__all__ if not name.isupper()),
}
NAMED = re.compile(r"^(Parameters|Returns|Equation|Valid for|Raises|Example|Source): ?", re.MULTILINE)


def reference_page() -> str:
    """The front door as a page in Markdown; ``workbooks/reference.md`` is what this returns."""
    parts = [f"# {say('reference.title')}", say("reference.head"), _code(flakeyard.__doc__ or "")]
    for name in flakeyard.__all__:
        parts += _part(f"fy.{name}", getattr(flakeyard, name))
        for inner in MODULES.get(name, ()):
            parts += _part(f"fy.{name}.{inner}", getattr(getattr(flakeyard, name), inner), "###")
    return "\n\n".join(parts) + "\n"


def _part(name: str, thing, level: str = "##") -> Iterator[str]:
    """A heading with what can be given, and the docstring."""
    head = "" if inspect.ismodule(thing) else f"({', '.join(_given(thing))})"
    yield f"{level} `{name}{head}`"
    yield _text(inspect.getdoc(thing) or "")


def _given(function) -> Iterator[str]:
    for one in inspect.signature(function).parameters.values():
        star = {one.VAR_POSITIONAL: "*", one.VAR_KEYWORD: "**"}.get(one.kind, "")
        default = "" if one.default is inspect.Parameter.empty else f"={one.default!r}"
        yield f"{star}{one.name}{default}"


def _text(doc: str) -> str:
    """A docstring as Markdown: sentences first, then a list of what goes in, what comes out, what is refused."""
    first, *named = NAMED.split(doc.replace("``", "`"))
    told = dict(zip(named[::2], named[1::2], strict=True))
    example = f"```python\n{inspect.cleandoc(told.pop('Example'))}\n```" if "Example" in told else ""
    items = "\n".join(f"- **{title}:** {' '.join(_in_a_row(text).split())}" for title, text in told.items())
    return "\n\n".join(filter(None, [first.strip(), items, example]))


def _in_a_row(text: str) -> str:
    """Parameters that stand one below the other, with a semicolon between."""
    return re.sub(r"\n\s+(?=\w+ : )", "; ", text.strip())


def _code(doc: str) -> str:
    """Indented lines of a docstring as a block of Python."""
    return re.sub(r"(?:^ {4}.*\n|^\n(?= {4}))+", _block, doc.replace("``", "`"), flags=re.MULTILINE)


def _block(match: re.Match) -> str:
    lines = "\n".join(line.removeprefix("    ") for line in match[0].strip("\n").splitlines())
    return f"\n```python\n{lines}\n```\n"


if __name__ == "__main__":
    print(reference_page(), end="")
