#!/bin/sh
# Builds pages that run the course inside the browser: a folder for any web server, also one without internet.
#   build.sh PYODIDE WHEELS COURSE OUT
# PYODIDE  an unpacked Pyodide distribution, of the version that the installed jupyterlite-pyodide-kernel names
# WHEELS   the wheel of this package and the pure-Python wheels that the distribution lacks (see README.md)
# COURSE   a folder with workbooks/ and data_demo/
# Run it in an environment of its own that holds jupyterlite-core, jupyterlite-pyodide-kernel, jupyter-server,
# ipywidgets, jupyterlab_widgets and anywidget – never together with JupyterLab.
set -eu
[ $# -eq 4 ] || { echo "build.sh PYODIDE WHEELS COURSE OUT" >&2; exit 2; }
pyodide=$(realpath "$1") wheels=$(realpath "$2") course=$(realpath "$3") out=$(realpath -m "$4")
here=$(CDPATH='' cd "$(dirname "$0")" && pwd)
[ -f "$pyodide/pyodide-lock.json" ] || { echo "no pyodide-lock.json in $1" >&2; exit 2; }
python "$here/prepare.py" lock "$pyodide/pyodide-lock.json"

site=$(mktemp -d)
trap 'rm -rf "$site"' EXIT
mkdir -p "$site/static" "$site/files"
cp "$here/jupyter-lite.json" "$site/"
ln -s "$pyodide" "$site/static/pyodide"
python "$here/prepare.py" course "$course" "$site/files"

set --
for wheel in "$wheels"/*.whl; do set -- "$@" "--piplite-wheels=$wheel"; done
cd "$site"
jupyter lite build --contents files --output-dir "$out" --no-sourcemaps "$@"
