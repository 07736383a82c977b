"""Literals of the source that a person may come to read, for the test that each of them comes out of the table of messages.

A literal of Python counts where it holds two words side by side, a word between spaces, or a word with a capital letter.
Not counted: docstrings, annotations, regular expressions, the names of messages, what an error of Python's own says, and
code of another language (a line that ends in ``;`` or ``{``). Of a page or script what stands between tags or in quotes.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator

UNITS = {"mm", "cm", "kg", "mg", "mL", "min", "oz", "lb", "kPa", "ppm"}
OWN = {  # of Python: what these say is for whoever wrote the call
    "ValueError", "TypeError", "AssertionError", "NotImplementedError", "RuntimeError", "AttributeError", "KeyError",
}  # fmt: skip
NAMES = {
    "say",
    "unfilled",
    "heads",
    "getattr",
    "import_module",
    "joinpath",
    "add_class",
    "remove_class",
}  # take a name first
CODE = re.compile(r"[;{]\s*$", re.MULTILINE)
TWO_WORDS = re.compile(r"[A-Za-z]{2,}[,;:]? [A-Za-z(]{2,}")
CAPITAL = re.compile(r"(?:^|[^\w\\-])[A-Z][a-z]{2,}")
WORD = re.compile(r"(?:(?<=[ (])|^)([A-Za-z]{2,})(?=[ ,.;:)?!]|$)")
ODD = re.compile(r"[=<>;_{}\\\[#]|--")


def may_be_read(text: str) -> bool:
    """Whether a literal looks like words for a person; places for values are written ``{}``."""
    if CODE.search(text) or re.fullmatch(r"[\w{}]+(\.[\w{}]+)+", text):  # or a name made of names
        return False
    bare = re.sub(r"<[^<>]*>|&\w+;|https?://\S+", " ", text)
    plain = bare.replace("{}", " ")
    if re.fullmatch(r" [a-z]+ ", text) or TWO_WORDS.search(plain) or CAPITAL.search(plain):
        return True
    words = WORD.findall(plain.strip()) if "{}" in bare and not ODD.search(plain) else []
    return any(word not in UNITS for word in words)


def in_python(source: str) -> Iterator[tuple[int, str, str]]:
    """Line, top-level name and text of every literal that may be read."""
    tree = ast.parse(source)
    left_out = {id(node) for one in ast.walk(tree) for node in _left_out(one)}
    for top in tree.body:
        for node in ast.walk(top):
            text = _text(node)
            if text and id(node) not in left_out and may_be_read(text):
                yield node.lineno, _name(top), text


def _left_out(node: ast.AST) -> Iterator[ast.AST]:
    """The nodes within one that hold no text for a person."""
    inside: list[ast.AST | None] = []
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        inside = [node.value]
    elif isinstance(node, ast.Call):
        name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        of = getattr(getattr(node.func, "value", None), "id", "")
        inside = list(node.args) if of == "re" else node.args[:1] if name in NAMES else []
    elif isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call):
        inside = [node.exc] if getattr(node.exc.func, "id", "") in OWN else []
    elif isinstance(node, ast.AnnAssign | ast.arg):
        inside = [node.annotation]
    elif isinstance(node, ast.FunctionDef):
        inside = [node.returns]
    elif isinstance(node, ast.JoinedStr):  # its pieces are looked at together
        inside = [one for one in node.values if isinstance(one, ast.Constant)]
        inside += [one.format_spec for one in node.values if isinstance(one, ast.FormattedValue)]
    for one in inside:
        yield from ast.walk(one) if one is not None else ()


def _text(node: ast.AST) -> str | None:
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else None
    if isinstance(node, ast.JoinedStr):
        return "".join(one.value if isinstance(one, ast.Constant) else "{}" for one in node.values)
    return None


def _name(top: ast.stmt) -> str:
    target = top.targets[0] if isinstance(top, ast.Assign) else getattr(top, "target", top)
    return getattr(target, "name", getattr(target, "id", ""))


def in_page(page: str) -> Iterator[str]:
    """What a page of HTML shows, or says to those who hear it, beside the marks ``@NAME@`` and ``{{ name }}`` that are filled in."""
    shown = re.sub(r"<(style|script)\b.*?</\1>|<!--.*?-->|\{[{%].*?[}%]\}", " ", page, flags=re.DOTALL)
    spoken = re.findall(r'\b(?:aria-label|title|alt|placeholder)="([^"]*)"', shown)
    for text in (*re.split(r"<[^>]*>", shown), *spoken):
        if re.search(r"[^\W\d_]{2,}", re.sub(r"@[A-Z_]+@", "", text)):
            yield text.strip()


def in_script(script: str) -> Iterator[str]:
    """What stands in quotes in a script, places for values written ``{}``; without its remarks."""
    code = re.sub(r"(?m)(?:^|\s)//.*$", "", script)
    yield from filter(may_be_read, quoted(code))


def all_in_python(source: str) -> Iterator[str]:
    """Every literal, whatever it is."""
    yield from filter(None, map(_text, ast.walk(ast.parse(source))))


def quoted(script: str) -> Iterator[str]:
    """Everything in quotes in a script, places for values written ``{}``."""
    for text in re.findall(r"'((?:[^'\\\n]|\\.)*)'|`((?:[^`\\]|\\.)*)`", script):
        yield re.sub(r"\$\{(?:[^{}]|\{[^{}]*\})*\}", "{}", text[0] or text[1])
