"""A folder, such as a stick, from which a whole class installs the course without a network.

Collecting the wheels is the one step that asks a package registry, through pip. Pip takes the requirements that hold on
the computer it runs on; what other systems need besides is found here by reading the wheels themselves.

The kit names every wheel with its check sum, and pip refuses any other when it installs. That holds against a stick
that rots and against files that were mixed up; against somebody who rewrites the whole stick, only a check sum that
came another way does.
"""

from __future__ import annotations

import hashlib
import html
import importlib.metadata
import io
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Iterable, Iterator
from itertools import permutations
from pathlib import Path

from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet
from packaging.tags import Tag, compatible_tags, cpython_tags, mac_platforms
from packaging.utils import canonicalize_name, parse_wheel_filename
from packaging.version import Version

from flakeyard import bill
from flakeyard.files import write_whole
from flakeyard.messages import say
from flakeyard.units import InputError

WANTED = "flakeyard[lab,room]"
FILES = {"requirements.txt": "flakeyard[lab]", "requirements-room.txt": WANTED}  # what pip is told to install, exactly
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
AXES = ("python_version", "sys_platform", "platform_machine")  # what tells kinds of computers apart
ROUNDS = 6  # of fetching: requirements of requirements of requirements …
TRIES = 20  # to find versions that fit each other; each takes in what the one before asked for (judgement: 2 are usual)


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
        write_checks(course, out, list(lacking))
    except OSError as trouble:
        print(say("kit.not_written", out=out, trouble=trouble.strerror or trouble), file=sys.stderr)
        return 2
    print(say("cli.written", path=out))
    return 1 if lacking and all(lacking.values()) else 0


def _known(asked: list[str] | None, known: tuple[str, ...], option: str) -> None:
    for one in asked or ():
        if one not in known:
            raise InputError(option, one, say("kit.not_known"), " | ".join(known), f"{option} {known[0]}")


# --- wheels -----------------------------------------------------------------------------------------------------------


def collect_wheels(course: Path, wheels: Path, kinds: list[tuple[str, str]]) -> dict[tuple[str, str], list[str]]:
    """Fetch what every kind of computer needs; returns what each of them still lacks."""
    wheels.mkdir(exist_ok=True)
    own = own_wheel(course, wheels)
    lacking = {}
    for platform, python in kinds:
        print(say("kit.collecting", platform=platform, python=python), file=sys.stderr, flush=True)
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
    return (
        f"  {say('kit.lacking', lacking=', '.join(lacking))} {trouble}".rstrip()
        if lacking
        else f"  {say('kit.complete')}"
    )


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
        with tempfile.TemporaryDirectory() as place:
            command = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", place, str(course)]
            subprocess.run(command, check=True)
            built = next(Path(place).glob("flakeyard-*.whl"))
            return write_whole(wheels / built.name, built.read_bytes())
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
    info = f"flakeyard-{installed.version}.dist-info"
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as wheel:
        for file in kept:
            wheel.write(file.locate(), file.as_posix())
        lines = [f"{file.as_posix()},{file.hash.mode}={file.hash.value},{file.size}" for file in kept if file.hash]
        wheel.writestr(f"{info}/RECORD", "\n".join([*lines, f"{info}/RECORD,,", ""]))
    return write_whole(wheels / f"flakeyard-{installed.version}-py3-none-any.whl", content.getvalue())


def gaps(wheels: Path, platform: str, python: str) -> list[str]:
    """Requirements that no wheel in the folder meets for this kind of computer; empty when the kit is complete."""
    return chosen(wheels, platform, python)[1]


def chosen(wheels: Path, platform: str, python: str, wanted: str = WANTED) -> tuple[dict[str, Version], list[str]]:
    """What this kind of computer installs: a version for each name with its extras; and the requirements nothing meets.

    For each name the newest wheel that meets all who ask for it. Who asks depends on the versions taken, so it is
    asked anew until nothing changes.
    """
    usable, environment, before = _usable(wheels, platform, python), markers(platform, python), {}
    for _ in range(TRIES):
        asked = _asked_for(wanted, usable, environment, before)
        if asked == before:
            break
        before = asked
    else:
        return {}, [say("kit.unfit")]
    taken, missing = {}, []
    for name, requirements in sorted(asked.items()):
        best = _newest(usable.get(name, ()), requirements)
        if best:
            extras = ",".join(sorted({extra for one in requirements for extra in one.extras}))
            taken[f"{name}[{extras}]" if extras else name] = best[0]
        else:
            missing.append(f"{name}{_all_of(requirements)}")
    return taken, missing


def _asked_for(wanted: str, usable: dict, environment: dict, before: dict[str, set]) -> dict[str, set[Requirement]]:
    """Name to all requirements of it, when each name gets the newest wheel that also meets what was asked before."""
    waiting, asked = [Requirement(wanted)], {}
    while waiting:
        requirement = waiting.pop()
        name = canonicalize_name(requirement.name)
        if requirement not in asked.setdefault(name, set()):
            asked[name].add(requirement)
            best = _newest(usable.get(name, ()), {requirement} | before.get(name, set()))
            waiting += _needs(best[1], environment, requirement.extras) if best else ()
    return asked


def _newest(wheels: Iterable[tuple[Version, Path]], requirements: set[Requirement]) -> tuple[Version, Path] | None:
    wanted = _all_of(requirements)
    return max((pair for pair in wheels if wanted.contains(pair[0], prereleases=True)), default=None)


def _all_of(requirements: set[Requirement]) -> SpecifierSet:
    return SpecifierSet(",".join(sorted({str(one.specifier) for one in requirements if one.specifier})))


def _usable(wheels: Path, platform: str, python: str) -> dict[str, list[tuple[Version, Path]]]:
    """Name to version and path of the wheels that this kind of computer can install."""
    tags, found = supported_tags(platform, python), {}
    for path in wheels.glob("*.whl"):
        name, version, _, own = parse_wheel_filename(path.name)
        if own & tags and SpecifierSet(bill.description(path)["Requires-Python"] or "").contains(f"{python}.0"):
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
    for text in bill.description(wheel).get_all("Requires-Dist", []):
        requirement, asked = Requirement(text), ("", *extras)
        if not requirement.marker or any(requirement.marker.evaluate({**environment, "extra": one}) for one in asked):
            yield requirement


# --- check sums, parts, licences --------------------------------------------------------------------------------------


def write_checks(course: Path, out: Path, kinds: list[tuple[str, str]]) -> None:
    """What pip may install, what is inside (CycloneDX), under which licences, and a check sum of every file."""
    sums = {path: _digest(path) for path in sorted((out / "wheels").glob("*.whl"))}
    for name, wanted in FILES.items() if kinds else ():
        write_whole(out / name, requirements(out / "wheels", kinds, sums, wanted))
    own = course / "LICENSE"
    write_whole(out / "sbom.json", bill.as_json(bill.kit_bill(sums)))
    write_whole(
        out / "licences.txt", bill.licences(list(sums), own.read_text(encoding="utf-8") if own.exists() else "")
    )
    lines = [f"{sums.get(path) or _digest(path)}  {path.relative_to(out).as_posix()}" for path in _files(out)]
    write_whole(out / "SHA256SUMS", "\n".join([*lines, ""]))


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _files(out: Path) -> list[Path]:
    """The files of the kit; whatever else is on the stick is left alone."""
    tops = [out / name for name in ("index.html", "install.txt", "licences.txt", "sbom.json", *FILES)]
    inner = [path for part in PARTS for path in sorted((out / part).rglob("*"))]
    return [path for path in (*tops, *inner) if path.is_file()]


def requirements(wheels: Path, kinds: list[tuple[str, str]], sums: dict[Path, str], wanted: str) -> str:
    """Every package that pip may install, in one version, and only from a file that has one of these check sums."""
    where: dict[tuple[str, Version], list] = {}
    for kind in kinds:
        for name, version in chosen(wheels, *kind, wanted)[0].items():
            where.setdefault((name, version), []).append(kind)
    hashes: dict[tuple[str, Version], list[str]] = {}
    for path, digest in sums.items():
        hashes.setdefault(parse_wheel_filename(path.name)[:2], []).append(f"--hash=sha256:{digest}")
    lines = [f"# {say('kit.requirements', wanted=wanted)}"]
    for (name, version), here in sorted(where.items()):
        told = marker(here, kinds)
        first = f"{name}=={version}" + (f" ; {told}" if told else "")
        lines.append(" \\\n    ".join([first, *sorted(hashes[Requirement(name).name, version])]))
    return "\n".join([*lines, ""])


def marker(inside: list[tuple[str, str]], every: list[tuple[str, str]]) -> str:
    """The shortest condition that holds on these kinds of computers and no others of the kit; nothing if on all."""
    return min((_condition(set(inside), every, axes) for axes in permutations(AXES)), key=len)


def _condition(inside: set[tuple[str, str]], every: list[tuple[str, str]], axes: tuple[str, ...]) -> str:
    if inside.issuperset(every):
        return ""
    values: dict[str, list] = {}
    for kind in every:
        values.setdefault(markers(*kind)[axes[0]], []).append(kind)
    told = []
    for value, here in values.items():
        if inside.intersection(here):
            more = _condition(inside, here, axes[1:])
            told.append(f'{axes[0]} == "{value}"' + (f" and ({more})" if more else ""))
    return " or ".join(told)


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
        print(say("kit.explorers"), file=sys.stderr, flush=True)
        explorers.write_explorers(own.demo_batch("heron"), out / "explorers")
    if "papers" in without:
        return
    (out / "papers").mkdir(exist_ok=True)
    worksheets.write_worksheets(course, out / "papers" / "worksheets.pdf")
    for name in own.DEMO_BATCHES:
        outcome = batches.plan(own.demo_batch(name))
        paper.save_pdf(card.batch_card(outcome), out / "papers" / f"card-{name}.pdf", card.title(outcome))


def commands() -> dict[str, tuple[str, str]]:
    """For each system: the one command that installs, to be typed in the folder of the kit; and the one that starts."""
    install = "-m pip install --require-hashes --no-index --find-links wheels -r requirements.txt"
    unix = f"python3 -m venv ~/flakeyard-python && ~/flakeyard-python/bin/python {install}"
    windows = (
        rf'py -m venv "%USERPROFILE%\flakeyard-python" && "%USERPROFILE%\flakeyard-python\Scripts\python" {install}'
    )
    start = "cd ~ && flakeyard-python/bin/flakeyard open"
    return {
        "Linux": (unix, start),
        "macOS": (unix, start),
        say("kit.windows"): (windows, r'cd /d "%USERPROFILE%" && flakeyard-python\Scripts\flakeyard open'),
    }


def write_install_pages(out: Path, lacking: dict[tuple[str, str], list[str]]) -> None:
    """How to install from this folder, as text and as a page, and what the kit is good for."""
    from flakeyard.workbook.paper.handout import page_of

    lines = list(_install_lines(out, lacking))
    write_whole(out / "install.txt", "\n".join(text for _, text in lines) + "\n")
    body = "\n".join(_as_html(kind, text) for kind, text in lines)
    write_whole(out / "index.html", page_of(say("kit.title"), body))


def _as_html(kind: str, text: str) -> str:
    if kind == "link":
        return f'<p><a href="{html.escape(text)}">{html.escape(text)}</a></p>'
    return f"<{kind}>{html.escape(text)}</{kind}>"


def _install_lines(out: Path, lacking: dict[tuple[str, str], list[str]]) -> Iterator[tuple[str, str]]:
    """Pairs of element and text, in reading order."""
    from flakeyard.workbook import words

    yield "h1", say("kit.title")
    if lacking:
        yield (
            "p",
            say("kit.python"),
        )
        yield (
            "p",
            say("kit.terminal"),
        )
        for system, (install, start) in commands().items():
            yield "h2", system
            yield "pre", install
            yield "p", say("kit.later")
            yield "pre", start
        yield "p", say("kit.damaged")
        yield "h2", say("kit.which")
        for (platform, python), needed in lacking.items():
            fit = say("kit.not_complete", lacking=", ".join(needed)) if needed else say("kit.complete")
            yield "p", say("kit.fit", platform=platform, python=python, fit=fit)
    yield "h2", say("kit.without")
    for page in ("handouts/index.html", "papers/worksheets.pdf"):
        if (out / page).exists():
            yield "link", page
    for page in sorted((out / "explorers").glob("*.html")):
        yield "link", f"explorers/{page.name}"
    yield "h2", say("kit.inside")
    yield "p", say("kit.licences")
    yield "p", words.caution_line()
