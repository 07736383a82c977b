"""Is this machine ready for the course? One short check that ends in the word "ready"."""

from __future__ import annotations

import importlib.metadata
import sys

from flakeyard.messages import say
from flakeyard.workbook import own

NEEDED = ("numpy", "scipy", "pandas", "matplotlib", "pint", "ipywidgets", "anywidget")


def check() -> str:
    """Versions of what the course needs, one small plan as a trial, and the word "ready" (or what is missing)."""
    missing, found = [], []
    for name in NEEDED:
        try:
            found.append(f"{name} {importlib.metadata.version(name)}")
        except importlib.metadata.PackageNotFoundError:
            missing.append(name)
    versions = say("start.versions", python=sys.version.split()[0], others=", ".join(found))
    if missing:
        return f"{versions}\n{say('start.missing', missing=', '.join(missing))}"
    from flakeyard.steps.plan import plan as batch

    trial = batch.plan(own.demo_batch("heron"), members=8)
    return f"{versions}\n{say('start.ready' if trial.drying['mass_ratio'].known else 'start.failed')}"
