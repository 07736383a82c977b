"""What is inside the kit: a bill of materials and the licences, as the wheels themselves tell them.

The bill is CycloneDX 1.6 in JSON (ECMA-424), an open standard that checking programs read. A wheel tells its licence in
one of three ways: an expression of SPDX names, one line of text, or classifiers. What it does not tell is not guessed.
"""

from __future__ import annotations

import json
import tomllib
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from email.message import Message
from email.parser import HeaderParser
from functools import lru_cache
from pathlib import Path
from urllib.parse import quote

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from flakeyard import __version__
from flakeyard.files import write_whole
from flakeyard.messages import say
from flakeyard.units import InputError

UNTOLD = "not told by the wheel"  # in the bill, which programs read
LONGEST = 100  # letters; a longer field "License" is the whole text of one, not its name (judgement)
OWN = "src/flakeyard/workshop/flakeyard.cdx.json"  # in the source tree: what this package asks for; it goes into its wheel


@lru_cache(maxsize=4000)
def description(wheel: Path) -> Message:
    """The fields of a wheel's METADATA. Raises: InputError for a file that is no whole wheel."""
    try:
        with zipfile.ZipFile(wheel) as content:
            name = next(name for name in content.namelist() if name.endswith(".dist-info/METADATA"))
            return HeaderParser().parsestr(content.read(name).decode("utf-8"))
    except (zipfile.BadZipFile, StopIteration):
        raise InputError("wheels", wheel.name, say("bill.not_whole"), say("bill.wheel"), say("bill.remove")) from None


def licence(told: Message) -> tuple[str, bool]:
    """The licence in the words of the wheel, and whether these are an expression of SPDX names; nothing if untold."""
    expression = (told["License-Expression"] or "").strip()
    line = (told["License"] or "").strip()
    if expression:
        return expression, True
    if line and line.upper() != "UNKNOWN" and "\n" not in line and len(line) <= LONGEST:
        return line, False
    classes = [text.split(" :: ")[-1] for text in told.get_all("Classifier", []) if text.startswith("License ::")]
    return "; ".join(classes), False


def kit_bill(sums: dict[Path, str], now: datetime | None = None) -> dict:
    """The bill of materials of a kit.

    Parameters: sums – each wheel and its SHA-256; now – when it is written
    """
    written = (now or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="seconds")
    about = {"timestamp": written, "component": {"type": "application", "name": "flakeyard kit"}}
    return _document(about, [_component(wheel, digest) for wheel, digest in sums.items()])


def _document(about: dict, components: list[dict], **more) -> dict:
    return {
        "$schema": "http://cyclonedx.org/schema/bom-1.6.schema.json",
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "version": 1,
        "metadata": about,
        "components": components,
        **more,
    }


def _component(wheel: Path, digest: str) -> dict:
    told = description(wheel)
    words, is_expression = licence(told)
    made = {
        "type": "library", "bom-ref": wheel.name, "name": told["Name"], "version": told["Version"],
        "purl": f"{_address(told['Name'])}@{quote(told['Version'], safe='')}?file_name={quote(wheel.name, safe='')}",
        "hashes": [{"alg": "SHA-256", "content": digest}],
    }  # fmt: skip
    if is_expression:
        return made | {"licenses": [{"expression": words, "acknowledgement": "declared"}]}
    if words:
        return made | {"licenses": [{"license": {"name": words, "acknowledgement": "declared"}}]}
    return made | {"properties": [{"name": "flakeyard:licence", "value": UNTOLD}]}


def _address(name: str) -> str:
    return f"pkg:pypi/{canonicalize_name(name)}"


def licences(wheels: list[Path], own: str = "") -> str:
    """The licence of everything in the kit, as text; what is not told comes first.

    Parameters: own – the text of the licences of this course
    """
    told = {}
    for wheel in wheels:
        about = description(wheel)
        told[canonicalize_name(about["Name"]), about["Version"]] = licence(about)[0]
    lines = [f"{name} {version}: {words or UNTOLD}" for (name, version), words in sorted(told.items())]
    lines.sort(key=lambda line: not line.endswith(f": {UNTOLD}"))
    title = say("bill.title", number=len(lines))
    return "\n".join([title, "", say("bill.note"), "", *lines, "", say("bill.course"), "", own])


def project_bill(pyproject: str) -> dict:
    """The bill of what this package asks for: names and ranges, since versions are chosen where it is installed.

    Parameters: pyproject – text of pyproject.toml
    """
    project = tomllib.loads(pyproject)["project"]
    own = {"type": "application", "bom-ref": project["name"], "name": project["name"], "version": __version__}
    own["licenses"] = [{"expression": project["license"], "acknowledgement": "declared"}]
    asked = list(_asked(project))
    tree = [{"ref": project["name"], "dependsOn": [one["bom-ref"] for one in asked]}]
    return _document({"component": own}, asked, dependencies=tree)


def _asked(project: dict) -> Iterator[dict]:
    for extra, texts in {"": project["dependencies"], **project["optional-dependencies"]}.items():
        for requirement in map(Requirement, texts):
            if requirement.name == project["name"]:  # extras that take in other extras
                continue
            about = [{"name": "flakeyard:versions", "value": ",".join(sorted(map(str, requirement.specifier)))}]
            about += [{"name": "flakeyard:extra", "value": extra}] if extra else []
            yield {
                "type": "library", "bom-ref": f"{extra or 'always'}:{requirement.name}", "name": requirement.name,
                "purl": _address(requirement.name), "scope": "optional" if extra else "required", "properties": about,
            }  # fmt: skip


def as_json(document: dict) -> str:
    """A bill as it stands in a file."""
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


if __name__ == "__main__":  # in the source tree, when pyproject.toml has changed
    root = Path(__file__).parents[2]
    write_whole(root / OWN, as_json(project_bill((root / "pyproject.toml").read_text(encoding="utf-8"))))
