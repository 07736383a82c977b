"""Holds the values file for a cluster against the schema of the values it may use, without helm."""

from __future__ import annotations

import json
from pathlib import Path

SCHEMA = Path(__file__).resolve().parent / "values.schema.json"


def read(text: str) -> dict:
    """The values as a dictionary."""
    import yaml

    return yaml.safe_load(text)


def problems(text: str) -> list[str]:
    """One line for every value that the schema does not know or that is of the wrong kind; empty when all is well."""
    import jsonschema

    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    found = jsonschema.Draft202012Validator(schema).iter_errors(read(text))
    return [f"{'.'.join(map(str, wrong.absolute_path)) or 'values.yaml'}: {wrong.message}" for wrong in found]
