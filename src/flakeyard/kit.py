"""A folder, such as a stick, from which a whole class installs the course without a network.

Collecting the wheels is the one step that asks a package registry, through pip. Pip takes the requirements that hold on
the computer it runs on; what other systems need besides is found here by reading the wheels themselves.
"""

from __future__ import annotations

import hashlib
import html
import importlib.metadata
import subprocess
import sys
import zipfile
from collections.abc import Iterable, Iterator
from email.parser import HeaderParser
from functools import lru_cache
from pathlib import Path

from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.tags import Tag, compatible_tags, cpython_tags, mac_platforms
from packaging.utils import canonicalize_name, parse_wheel_filename

from flakeyard.units import InputError

WANTED = "flakeyard[lab,room]"
PYTHONS = ("3.11", "3.12", "3.13")
PARTS = ("wheels", "handouts", "explorers", "papers")
LINUX = ("manylinux_2_28", "manylinux_2_27", "manylinux_2_26", "manylinux_2_24", "manylinux_2_17", "manylinux2014", "manylinux_2_12", "manylinux2010", "manylinux_2_5", "manylinux1")  # fmt: skip
PLATFORMS = {  # the tags of wheels that a computer of this kind can use: glibc 2.28, macOS 14, or newer
    "linux-x86_64": tuple(f"{name}_x86_64" for name in LINUX),
    "linux-arm64": tuple(f"{name}_aarch64" for name in LINUX[:6]),
    "windows-x86_64": ("win_amd64",),
    "windows-arm64": ("win_arm64",),
    "macos-x86_64": tuple(mac_platforms((14, 0), "x86_64")),
    "macos-arm64": tuple(mac_platforms((14, 0), "arm64")),
}  # fmt: skip
SYSTEMS = {  # what requirement markers ask of a system: sys_platform, platform_system, os_name
    "linux": ("linux", "Linux", "posix"),
    "windows": ("win32", "Windows", "nt"),
    "macos": ("darwin", "Darwin", "posix"),
}
MACHINES = {"linux-arm64": "aarch64", "windows-x86_64": "AMD64", "windows-arm64": "ARM64", "macos-arm64": "arm64"}
ROUNDS = 6  # requirements of requirements of requirements …


def collect(course: Path, out: Path, platforms: list[str] | None, pythons: list[str] | None, without: list[str]) -> int:
    """Write the kit; returns 0 unless wheels were asked for and no kind of computer has all of its own."""
    _known(platforms, tuple(PLATFORMS), "--platform")
    _known(pythons, PYTHONS, "--python")
    _known(without, PARTS, "--without")
    kinds = [(platform, python) for platform in platforms or PLATFORMS for python in pythons or PYTHONS]
    lacking: dict[tuple[str, str], list[str]] = {}
    try:
        out.mkdir(parents=True, exist_ok=True)
        if "wheels" not in without:
            lacking = collect_wheels(course, out / "wheels", kinds)
        write_papers(course, out, without)
        write_install_pages(out, lacking)
    except OSError as trouble:
        print(f"flakeyard: {out} cannot be written: {trouble.strerror or trouble}", file=sys.stderr)
        return 2
    print(f"written: {out}")
    return 1 if lacking and all(lacking.values()) else 0


def _known(asked: list[str] | None, known: tuple[str, ...], option: str) -> None:
    for one in asked or ():
        if one not in known:
            raise InputError(option, one, "it is not known", " | ".join(known), f"{option} {known[0]}")


# --- wheels -----------------------------------------------------------------------------------------------------------


def collect_wheels(course: Path, wheels: Path, kinds: list[tuple[str, str]]) -> dict[tuple[str, str], list[str]]:
    """Fetch what every kind of computer needs; returns what each of them still lacks."""
    wheels.mkdir(exist_ok=True)
    own = own_wheel(course, wheels)
    lacking = {}
    for platform, python in kinds:
        print(f"collecting for {platform}, Python {python} …", file=sys.stderr, flush=True)
        trouble = fetch(wheels, platform, python, [f"{own}{WANTED.removeprefix('flakeyard')}"])
        for _ in range(ROUNDS):
            needed = gaps(wheels, platform, python)
            if not needed or trouble:
                break
            trouble = fetch(wheels, platform, python, ["--no-deps", *needed])
        lacking[platform, python] = gaps(wheels, platform, python)
        print(_verdict(lacking[platform, python], trouble), file=sys.stderr, flush=True)
    return lacking


def _verdict(lacking: list[str], trouble: str) -> str:
    return f"  not complete, lacking {', '.join(lacking)} {trouble}".rstrip() if lacking else "  complete"


def fetch(wheels: Path, platform: str, python: str, what: list[str]) -> str:
    """Have pip download wheels for another kind of computer; returns the last line of its complaint, or ""."""
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--only-binary=:all:"]
    command += [
        "--dest",
        str(wheels),
        "--find-links",
        str(wheels),
        "--implementation",
        "cp",
        "--python-version",
        python,
    ]
    command += [f"--platform={tag}" for tag in PLATFORMS[platform]]
    done = subprocess.run([*command, *what], capture_output=True, text=True)
    said = [line for line in done.stderr.splitlines() if line.startswith("ERROR")]
    return said[-1] if done.returncode and said else ""


def own_wheel(course: Path, wheels: Path) -> Path:
    """The wheel of this package: built from its source tree, or put together again from the installed files."""
    if (course / "pyproject.toml").is_file():
        command = [
            sys.executable,
            "-m",
            "pip",
            "wheel",
            "--quiet",
            "--no-deps",
            "--wheel-dir",
            str(wheels),
            str(course),
        ]
        subprocess.run(command, check=True)
        return next(wheels.glob("flakeyard-*.whl"))
    return _rebuilt(importlib.metadata.distribution("flakeyard"), wheels)


def _rebuilt(installed: importlib.metadata.Distribution, wheels: Path) -> Path:
    """A wheel is a zip of the installed files with their list; what the installer added is left out."""
    added = ("INSTALLER", "REQUESTED", "direct_url.json", "RECORD")
    kept = [
        file
        for file in installed.files or ()
        if ".." not in file.parts
        and file.suffix != ".pyc"
        and not (file.parts[0].endswith(".dist-info") and file.name in added)
    ]
    target = wheels / f"flakeyard-{installed.version}-py3-none-any.whl"
    info = f"flakeyard-{installed.version}.dist-info"
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as wheel:
        for file in kept:
            wheel.write(file.locate(), file.as_posix())
        lines = [f"{file.as_posix()},{file.hash.mode}={file.hash.value},{file.size}" for file in kept if file.hash]
        wheel.writestr(f"{info}/RECORD", "\n".join([*lines, f"{info}/RECORD,,", ""]))
    return target


def gaps(wheels: Path, platform: str, python: str) -> list[str]:
    """Requirements that no wheel in the folder meets for this kind of computer; empty when the kit is complete."""
    environment, usable = markers(platform, python), _usable(wheels, platform, python)
    waiting, seen, missing = [Requirement(WANTED)], set(), {}
    while waiting:
        requirement = waiting.pop()
        key = (canonicalize_name(requirement.name), str(requirement.specifier), tuple(sorted(requirement.extras)))
        if key in seen:
            continue
        seen.add(key)
        fitting = [pair for pair in usable.get(key[0], ()) if requirement.specifier.contains(pair[0], prereleases=True)]
        if fitting:
            waiting += _needs(max(fitting)[1], environment, requirement.extras)
        else:
            missing[key[0]] = missing.get(key[0], SpecifierSet()) & requirement.specifier
    return sorted(f"{name}{specifier}" for name, specifier in missing.items())


def _usable(wheels: Path, platform: str, python: str) -> dict[str, list[tuple]]:
    """Name to (version, path) of the wheels that this kind of computer can install."""
    tags, found = supported_tags(platform, python), {}
    for path in wheels.glob("*.whl"):
        name, version, _, own = parse_wheel_filename(path.name)
        if own & tags:
            found.setdefault(name, []).append((version, path))
    return found


def supported_tags(platform: str, python: str) -> frozenset[Tag]:
    """Every tag of a wheel that this kind of computer can install."""
    version = tuple(int(part) for part in python.split("."))
    platforms = PLATFORMS[platform]
    interpreter = f"cp{version[0]}{version[1]}"
    return frozenset(cpython_tags(version, platforms=platforms)) | frozenset(
        compatible_tags(version, interpreter=interpreter, platforms=platforms)
    )


def markers(platform: str, python: str) -> dict[str, str]:
    """What requirement markers would find on this kind of computer."""
    system, _, machine = platform.partition("-")
    names = SYSTEMS[system]
    return {
        "sys_platform": names[0], "platform_system": names[1], "os_name": names[2],
        "platform_machine": MACHINES.get(platform, machine), "python_version": python, "python_full_version": f"{python}.0",
        "implementation_name": "cpython", "implementation_version": f"{python}.0",
        "platform_python_implementation": "CPython", "platform_release": "", "platform_version": "",
    }  # fmt: skip


def _needs(wheel: Path, environment: dict[str, str], extras: Iterable[str]) -> Iterator[Requirement]:
    for requirement in _requirements(wheel):
        chosen = ("", *extras)
        if not requirement.marker or any(requirement.marker.evaluate({**environment, "extra": one}) for one in chosen):
            yield requirement


@lru_cache(maxsize=2000)
def _requirements(wheel: Path) -> list[Requirement]:
    with zipfile.ZipFile(wheel) as content:
        name = next(name for name in content.namelist() if name.endswith(".dist-info/METADATA"))
        told = HeaderParser().parsestr(content.read(name).decode("utf-8"))
    return [Requirement(text) for text in told.get_all("Requires-Dist", [])]


# --- paper and pages --------------------------------------------------------------------------------------------------


def write_papers(course: Path, out: Path, without: Iterable[str] = ()) -> None:
    """Handouts, explorers, worksheets and batch cards; nothing here asks a network."""
    from flakeyard.steps.plan import plan as batches
    from flakeyard.workbook import own
    from flakeyard.workbook.pages import explorers
    from flakeyard.workbook.paper import card, handout, worksheets
    from flakeyard.workbook.paper import sheet as paper

    if "handouts" not in without:
        handout.write_handouts(course, out / "handouts", chromium=handout.find_chromium())
    if "explorers" not in without:
        print("computing the explorers, some minutes …", file=sys.stderr, flush=True)
        explorers.write_explorers(own.demo_batch("heron"), out / "explorers")
    if "papers" in without:
        return
    (out / "papers").mkdir(exist_ok=True)
    sheets = [worksheets.worksheet(file.read_text(encoding="utf-8")) for file in worksheets.worksheet_files(course)]
    paper.save_pdf(sheets, out / "papers" / "worksheets.pdf", "Worksheets of the course")
    for name in ("heron", "otter", "kingfisher"):
        outcome = batches.plan(own.demo_batch(name))
        page = card.batch_card(outcome)
        paper.save_pdf([page], out / "papers" / f"card-{name}.pdf", f"Batch card: {outcome.batch.title}")


def commands() -> dict[str, tuple[str, str]]:
    """For each system: the one command that installs, to be typed in the folder of the kit; and the one that starts."""
    install = "-m pip install --no-index --find-links wheels"
    unix = f"python3 -m venv ~/flakeyard-python && ~/flakeyard-python/bin/python {install} 'flakeyard[lab]'"
    windows = rf'py -m venv "%USERPROFILE%\flakeyard-python" && "%USERPROFILE%\flakeyard-python\Scripts\python" {install} flakeyard[lab]'
    start = "cd ~ && flakeyard-python/bin/flakeyard open"
    return {
        "Linux": (unix, start),
        "macOS": (unix, start),
        "Windows (Command Prompt)": (windows, r'cd /d "%USERPROFILE%" && flakeyard-python\Scripts\flakeyard open'),
    }


def write_install_pages(out: Path, lacking: dict[tuple[str, str], list[str]]) -> None:
    """How to install from this folder, as text and as a page, what the kit is good for, and a check sum for each wheel."""
    from flakeyard.workbook.paper.handout import page_of

    lines = list(_install_lines(out, lacking))
    (out / "install.txt").write_text("\n".join(text for _, text in lines) + "\n", encoding="utf-8")
    body = "\n".join(_as_html(kind, text) for kind, text in lines)
    (out / "index.html").write_text(page_of("Install without a network", body), encoding="utf-8")
    sums = [
        f"{hashlib.sha256(path.read_bytes()).hexdigest()}  wheels/{path.name}"
        for path in sorted((out / "wheels").glob("*.whl"))
    ]
    (out / "SHA256SUMS").write_text("\n".join([*sums, ""]), encoding="utf-8")


def _as_html(kind: str, text: str) -> str:
    if kind == "link":
        return f'<p><a href="{html.escape(text)}">{html.escape(text)}</a></p>'
    return f"<{kind}>{html.escape(text)}</{kind}>"


def _install_lines(out: Path, lacking: dict[tuple[str, str], list[str]]) -> Iterator[tuple[str, str]]:
    """Pairs of element and text, in reading order."""
    from flakeyard.workbook import words

    yield "h1", "Install without a network"
    if lacking:
        yield (
            "p",
            "You need Python 3.11, 3.12 or 3.13 on your computer; it is not in this kit, so fetch it before the day.",
        )
        yield (
            "p",
            "Open a terminal in this folder (the one with install.txt in it) and give the command for your system:",
        )
        for system, (install, start) in commands().items():
            yield "h2", system
            yield "pre", install
            yield "p", "Then, today and on every later day:"
            yield "pre", start
        yield "h2", "For which computers"
        for (platform, python), needed in lacking.items():
            fit = "complete" if not needed else f"NOT complete, lacking {', '.join(needed)}"
            yield "p", f"{platform}, Python {python}: {fit}"
    yield "h2", "Without any Python"
    for page in ("handouts/index.html", "papers/worksheets.pdf"):
        if (out / page).exists():
            yield "link", page
    for page in sorted((out / "explorers").glob("*.html")):
        yield "link", f"explorers/{page.name}"
    yield "p", words.caution_line()
