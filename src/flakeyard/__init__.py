"""flakeyard: preserving fish at home, computed: brine, salt, drying by weight, judging, keeping.

A whole batch, from the file to the scale:

    import flakeyard as fy

    batch = fy.load_batch("data_demo/heron.toml")
    outcome = fy.plan(batch)                                  # every number low, middle, high
    outcome.verdict.keep, outcome.quantity("hours")           # the rules' word; hours as a Quantity
    fy.show_table(outcome.frame())                            # the same as a DataFrame, to be read
    fy.show_table(fy.ways(outcome).frame())                   # where else it could be kept
    fy.learn(batch, "data_demo/heron-weighings.csv").learned  # what the scale teaches

On a page `panel`, `form`, `table` and `ask` show what the course shows, in the units of `choose_units`; `study` looks into
one step of a batch, `formulas` are the formulas beneath.

Amounts are typed text ("6 mm", "1/4 in", "1 1/2 cup", "145 °F") or pint Quantities (``fy.Quantity(6, "mm")``). Inside,
numbers are SI, temperatures in degC and fractions 0-1. What is not told is None, and never taken for harmless. A mistake
raises InputError, which says what was given, what is allowed, and an example.

This is a teaching estimate, never a certificate: when unsure, refrigerate or freeze; when in doubt, throw it out.
"""

__version__ = "0.1.0"
_STANDS_IN = {  # each name is loaded when it is first used
    "load_batch": "door", "change": "door", "plan": "door", "ways": "door", "brine": "door", "read_log": "door",
    "learn": "door", "picture": "door", "show_table": "door", "amount": "quantities", "show": "quantities",
    "Quantity": "units", "InputError": "units", "species": "tables", "tables": "", "check": "", "formulas": "", "study": "",
    "batch": "display", "panel": "display", "form": "display", "table": "display", "ask": "display",
    "choose_units": "display", "ready": "display", "language": "messages",
}  # fmt: skip
__all__ = sorted(_STANDS_IN.keys() - {"Quantity", "InputError"})


def __getattr__(name: str):
    if name not in _STANDS_IN:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}; it has {', '.join(_STANDS_IN)}")
    from importlib import import_module

    module = import_module(f"{__name__}.{_STANDS_IN[name] or name}")
    return getattr(module, name) if _STANDS_IN[name] else module


def __dir__() -> list[str]:
    return sorted([*_STANDS_IN, "__version__"])
