"""Take out of executed notebooks what must not be committed: widget state, widget views and timings. Outputs and counts stay.

Run: python tests/strip_outputs.py workbooks/*.ipynb
"""

import sys

import nbformat


def strip(path: str) -> None:
    notebook = nbformat.read(path, as_version=4)
    notebook.metadata.pop("widgets", None)
    for cell in notebook.cells:
        cell.metadata.pop("execution", None)
        for output in cell.get("outputs", ()):
            output.get("data", {}).pop("application/vnd.jupyter.widget-view+json", None)
    notebook.metadata["language_info"] = {"name": "python"}
    nbformat.write(notebook, path)


if __name__ == "__main__":
    for name in sys.argv[1:]:
        strip(name)
