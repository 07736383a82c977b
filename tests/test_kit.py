"""The kit for a class without a network: which wheels a computer needs, what the pages say, and a real install."""

import hashlib
import itertools
import json
import os
import shlex
import socket
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from packaging.markers import Marker

from flakeyard import bill, cli, kit
from flakeyard.messages import say
from flakeyard.units import InputError

KINDS = list(itertools.product(kit.PLATFORMS, kit.PYTHONS))
ROOT = Path(__file__).parents[1]


def invented_wheel(
    folder: Path, name: str, needs: tuple[str, ...] = (), tag: str = "py3-none-any", version="1.0", about=()
) -> Path:
    """A wheel that holds its own description and nothing else."""
    path, info = folder / f"{name}-{version}-{tag}.whl", f"{name}-{version}.dist-info"
    lines = ["Metadata-Version: 2.1", f"Name: {name}", f"Version: {version}", *about]
    lines += [f"Requires-Dist: {one}" for one in needs]
    with zipfile.ZipFile(path, "w") as wheel:
        wheel.writestr(f"{info}/METADATA", "\n".join(lines) + "\n")
        wheel.writestr(f"{info}/WHEEL", f"Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: {tag}\n")
        wheel.writestr(f"{info}/RECORD", "".join(f"{info}/{one},,\n" for one in ("METADATA", "WHEEL", "RECORD")))
    return path


@pytest.fixture
def wheels(tmp_path):
    needs = (
        'rack>=1; extra == "lab"',
        'sail; extra == "room"',
        'bait; extra == "test"',
        'tide; sys_platform == "win32"',
        'keel; python_version < "3.12"',
    )
    invented_wheel(tmp_path, "flakeyard", needs)
    invented_wheel(tmp_path, "rack", ("salt",))
    invented_wheel(tmp_path, "sail")
    invented_wheel(tmp_path, "salt", tag="cp311-cp311-manylinux_2_17_x86_64.manylinux2014_x86_64")
    return tmp_path


def test_gaps_follow_extras_systems_and_versions(wheels):
    assert kit.gaps(wheels, "linux-x86_64", "3.11") == ["keel"]
    assert kit.gaps(wheels, "linux-x86_64", "3.12") == ["salt"]
    assert kit.gaps(wheels, "windows-x86_64", "3.11") == ["keel", "salt", "tide"]
    invented_wheel(wheels, "keel")
    assert kit.gaps(wheels, "linux-x86_64", "3.11") == []


def test_too_old_a_wheel_is_a_gap(wheels):
    invented_wheel(wheels, "keel")
    (wheels / "rack-1.0-py3-none-any.whl").unlink()
    invented_wheel(wheels, "rack", version="0.9")
    assert kit.gaps(wheels, "linux-x86_64", "3.11") == ["rack>=1"]


def test_one_version_is_taken_that_everybody_who_asks_accepts(tmp_path):
    """The newest rack wants a salt that the sail refuses, and the rack for newer Pythons is none for this one."""
    invented_wheel(tmp_path, "flakeyard", ("rack", "sail"))
    invented_wheel(tmp_path, "rack", ("salt>=1",))
    invented_wheel(tmp_path, "rack", about=("Requires-Python: >=3.12",), version="2.0")
    invented_wheel(tmp_path, "sail", ("salt<2", "salt[fine]"))
    for version in ("0.9", "1.5", "2.0"):
        invented_wheel(tmp_path, "salt", version=version)
    taken, missing = kit.chosen(tmp_path, "linux-x86_64", "3.11")
    assert {name: str(version) for name, version in taken.items()} == {
        "flakeyard[lab,room]": "1.0", "rack": "1.0", "sail": "1.0", "salt[fine]": "1.5",
    }  # fmt: skip
    assert missing == []
    assert str(kit.chosen(tmp_path, "linux-x86_64", "3.12")[0]["rack"]) == "2.0"
    (tmp_path / "salt-1.5-py3-none-any.whl").unlink()
    assert kit.gaps(tmp_path, "linux-x86_64", "3.11") == ["salt<2,>=1"]


def test_what_only_a_version_not_taken_asked_for_is_forgotten(tmp_path):
    invented_wheel(tmp_path, "flakeyard", ("rack", "sail"))
    invented_wheel(tmp_path, "rack", ("keel",))
    invented_wheel(tmp_path, "rack", ("bait>=5",), version="2.0")
    invented_wheel(tmp_path, "sail", ("rack<2",))
    invented_wheel(tmp_path, "keel")
    taken, missing = kit.chosen(tmp_path, "linux-x86_64", "3.11")
    assert set(taken) == {"flakeyard[lab,room]", "rack", "sail", "keel"}
    assert missing == []


def test_versions_that_chase_each_other_are_a_gap_not_an_endless_search(tmp_path):
    """The newer rack brings a sail that refuses it, and the older one brings none."""
    invented_wheel(tmp_path, "flakeyard", ("rack",))
    invented_wheel(tmp_path, "rack")
    invented_wheel(tmp_path, "rack", ("sail",), version="2.0")
    invented_wheel(tmp_path, "sail", ("rack<2",))
    assert kit.chosen(tmp_path, "linux-x86_64", "3.11") == ({}, [say("kit.unfit")])


def test_a_file_that_is_no_whole_wheel_is_named(tmp_path):
    broken = invented_wheel(tmp_path, "flakeyard")
    broken.write_bytes(broken.read_bytes()[:-40])
    with pytest.raises(InputError, match=r"flakeyard-1\.0-py3-none-any\.whl"):
        kit.gaps(tmp_path, "linux-x86_64", "3.11")


# Tags as published by the projects for their own wheels (numpy, pyzmq, debugpy, pywinpty; file names on the Python
# Package Index, read 2026-11) – platform compatibility tags are a standard of the Python Packaging Authority.
@pytest.mark.parametrize(
    ("platform", "python", "tag", "fits"),
    [
        ("linux-x86_64", "3.12", "cp312-cp312-manylinux_2_28_x86_64", True),
        ("linux-x86_64", "3.12", "cp312-abi3-manylinux_2_17_x86_64", True),
        ("linux-x86_64", "3.12", "cp38-abi3-manylinux1_x86_64", True),
        ("linux-x86_64", "3.12", "cp312-cp312-musllinux_1_2_x86_64", False),
        ("linux-x86_64", "3.12", "cp312-cp312-manylinux_2_34_x86_64", False),
        ("linux-arm64", "3.13", "cp313-cp313-manylinux_2_17_aarch64", True),
        ("linux-arm64", "3.13", "cp313-cp313t-manylinux_2_17_aarch64", False),
        ("macos-arm64", "3.11", "cp311-cp311-macosx_11_0_arm64", True),
        ("macos-arm64", "3.11", "cp311-cp311-macosx_10_9_universal2", True),
        ("macos-arm64", "3.11", "cp311-cp311-macosx_15_0_arm64", False),
        ("macos-arm64", "3.11", "cp311-cp311-macosx_11_0_universal2", True),
        ("macos-x86_64", "3.11", "cp311-cp311-macosx_10_13_x86_64", True),
        ("macos-x86_64", "3.11", "cp311-cp311-macosx_11_0_arm64", False),
        ("windows-x86_64", "3.12", "cp312-cp312-win_amd64", True),
        ("windows-arm64", "3.12", "cp312-cp312-win_amd64", False),
        ("windows-arm64", "3.12", "py3-none-any", True),
    ],
)
def test_tags_of_each_kind_of_computer(platform, python, tag, fits):
    name, abi, system = tag.split("-")
    assert (kit.Tag(name, abi, system) in kit.supported_tags(platform, python)) is fits


def test_tags_of_this_computer_are_among_those_of_its_kind():
    """Against the tags that `packaging` finds on the computer the test runs on."""
    from packaging.tags import sys_tags

    if sys.platform != "linux" or os.uname().machine != "x86_64":
        pytest.skip("the comparison is for Linux on x86-64")
    ours = kit.supported_tags("linux-x86_64", f"{sys.version_info[0]}.{sys.version_info[1]}")
    here = {tag for tag in sys_tags() if "manylinux" in tag.platform or tag.platform == "any"}
    assert {tag for tag in ours if "manylinux" in tag.platform} <= here


def test_pages_say_the_command_and_what_is_lacking(tmp_path):
    lacking = {("linux-x86_64", "3.12"): [], ("windows-arm64", "3.11"): ["scipy>=1.14"]}
    (tmp_path / "wheels").mkdir()
    invented_wheel(tmp_path / "wheels", "flakeyard")
    kit.write_install_pages(tmp_path, lacking)
    kit.write_checks(tmp_path, tmp_path, list(lacking))
    text, page = (tmp_path / "install.txt").read_text(), (tmp_path / "index.html").read_text()
    for told in (text, page):
        assert "--require-hashes --no-index --find-links wheels -r requirements.txt" in told
        assert "windows-arm64, Python 3.11: NOT complete, lacking scipy" in told
        assert "linux-x86_64, Python 3.12: complete" in told
        assert "When in doubt, throw it out" in told
    assert "http" not in page.replace("http-equiv", "")
    sums = dict(reversed(line.split("  ")) for line in (tmp_path / "SHA256SUMS").read_text().splitlines())
    assert set(sums) == {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*") if path.is_file()} - {
        "SHA256SUMS"
    }
    assert all(hashlib.sha256((tmp_path / name).read_bytes()).hexdigest() == told for name, told in sums.items())


# --- check sums -------------------------------------------------------------------------------------------------------


@given(every=st.lists(st.sampled_from(KINDS), min_size=1, unique=True), data=st.data())
def test_condition_holds_on_the_kinds_it_is_for_and_on_no_others(every, data):
    inside = data.draw(st.lists(st.sampled_from(every), min_size=1, unique=True))
    told = kit.marker(inside, every)
    for kind in every:
        assert (not told or Marker(told).evaluate(kit.markers(*kind))) is (kind in inside)
    assert bool(told) is (set(inside) != set(every))


def test_condition_is_as_short_as_the_difference():
    windows, old = [kind for kind in KINDS if "windows" in kind[0]], [kind for kind in KINDS if kind[1] == "3.11"]
    assert kit.marker(windows, KINDS) == 'sys_platform == "win32"'
    assert kit.marker(old, KINDS) == 'python_version == "3.11"'
    assert kit.marker(KINDS, KINDS) == ""


def test_every_kind_is_told_what_it_takes_and_no_more(wheels):
    """Line by line, with the conditions read as pip reads them."""
    invented_wheel(wheels, "tide")
    invented_wheel(wheels, "keel")
    sums = {path: "0" * 64 for path in wheels.glob("*.whl")}
    text = kit.requirements(wheels, KINDS, sums, kit.FILES["requirements.txt"])
    lines = [line.removesuffix(" \\").split(" ; ") for line in text.splitlines() if "==" in line.split(" ")[0]]
    for kind in KINDS:
        told = {name for name, *when in lines if not when or Marker(when[0]).evaluate(kit.markers(*kind))}
        taken = kit.chosen(wheels, *kind, kit.FILES["requirements.txt"])[0]
        assert told == {f"{name}=={version}" for name, version in taken.items()}
    assert "sail" not in text, "only a room needs it"
    assert text.count("--hash=sha256:") == len(lines)


@pytest.fixture
def stick(tmp_path):
    """A small kit that pip can install here, and the command that its page tells, with another place to install to."""
    (tmp_path / "wheels").mkdir()
    invented_wheel(tmp_path / "wheels", "flakeyard", ('rack>=1; extra == "lab"',))
    invented_wheel(tmp_path / "wheels", "rack", ("salt",))
    invented_wheel(tmp_path / "wheels", "salt")
    kit.write_checks(tmp_path, tmp_path, [("linux-x86_64", "3.11")])
    return tmp_path


def installed(stick: Path) -> tuple[set[str], str]:
    """What the command of the kit's page installs, and what it says."""
    told = shlex.split(kit.commands()["Linux"][0].partition("&& ")[2])[1:]
    place = stick / "installed"
    done = subprocess.run(
        [sys.executable, *told, "--target", place], cwd=stick, capture_output=True, text=True,
        env={**os.environ, "PIP_CONFIG_FILE": os.devnull, "PIP_NO_CACHE_DIR": "1"},
    )  # fmt: skip
    found = {path.name.partition("-")[0] for path in place.glob("*.dist-info")} if place.exists() else set()
    assert (done.returncode == 0) is bool(found)
    return found, done.stderr


def change_a_byte(wheels: Path) -> None:
    path = wheels / "salt-1.0-py3-none-any.whl"
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)


def exchange(wheels: Path) -> None:
    invented_wheel(wheels, "salt", about=("Summary: another one, whole and well formed",))


def ask_for_more(wheels: Path) -> None:
    """A package that the kit does not name comes along unless it is refused."""
    invented_wheel(wheels, "bait")
    path = wheels.parent / "requirements.txt"
    path.write_text(path.read_text() + "bait==1.0\n")


def test_kit_installs_what_it_names_and_nothing_put_beside_it(stick):
    invented_wheel(stick / "wheels", "salt", version="2.0")
    found, said = installed(stick)
    assert found == {"flakeyard", "rack", "salt"}, said
    assert (stick / "installed" / "salt-1.0.dist-info").exists()


@pytest.mark.parametrize(
    ("spoil", "says"),
    [(change_a_byte, "DO NOT MATCH"), (exchange, "DO NOT MATCH"), (ask_for_more, "Hashes are required")],
)
def test_pip_refuses_a_wheel_that_is_not_the_one_collected(stick, spoil, says):
    spoil(stick / "wheels")
    found, said = installed(stick)
    assert found == set()
    assert says in said


# --- parts and licences -----------------------------------------------------------------------------------------------

WORDS = {"type": "string", "minLength": 1}
DECLARED = {"enum": ["declared"]}


def fields(required: str, **known) -> dict:
    return {
        "type": "object", "properties": known, "required": required.split(), "additionalProperties": False,
    }  # fmt: skip


# The fields used here as CycloneDX 1.6 (ECMA-424) has them: which must be there, what they may hold, and no others.
COMPONENT = fields(
    "type name",
    type={"enum": ["application", "library"]}, name=WORDS, version=WORDS, scope={"enum": ["required", "optional"]},
    purl={"type": "string", "pattern": "^pkg:pypi/[a-z0-9-]+(@[^?/@]+)?([?]file_name=[^/]+)?$"},
    hashes={"type": "array", "items": fields(
        "alg content", alg={"enum": ["SHA-256"]}, content={"type": "string", "pattern": "^[a-f0-9]{64}$"}
    )},
    licenses={"type": "array", "minItems": 1, "maxItems": 1, "items": {"oneOf": [
        fields("expression", expression=WORDS, acknowledgement=DECLARED),
        fields("license", license=fields("name", name=WORDS, acknowledgement=DECLARED)),
    ]}},
    properties={"type": "array", "items": fields("name", name=WORDS, value=WORDS)},
    **{"bom-ref": WORDS},
)  # fmt: skip
STANDARD = fields(
    "bomFormat specVersion",
    bomFormat={"const": "CycloneDX"}, specVersion={"const": "1.6"}, version={"type": "integer", "minimum": 1},
    metadata=fields("", component=COMPONENT, timestamp={"type": "string", "pattern": "^[0-9-]{10}T[0-9:]{8}[+]00:00$"}),
    components={"type": "array", "items": COMPONENT, "uniqueItems": True},
    dependencies={"type": "array", "items": fields("ref", ref=WORDS, dependsOn={"type": "array", "uniqueItems": True})},
    **{"$schema": {"const": "http://cyclonedx.org/schema/bom-1.6.schema.json"}},
)  # fmt: skip


def assert_standard(document: dict) -> None:
    jsonschema = pytest.importorskip("jsonschema")
    jsonschema.validate(document, STANDARD)
    names = [one["bom-ref"] for one in document["components"]]
    assert len(set(names)) == len(names)
    for one in document.get("dependencies", ()):
        assert set(one["dependsOn"]) <= set(names)


@pytest.mark.parametrize(
    ("about", "words", "is_expression"),
    [
        (["License-Expression: MIT OR Apache-2.0", "License: other"], "MIT OR Apache-2.0", True),
        (["License: BSD-3-Clause", "Classifier: License :: OSI Approved :: BSD License"], "BSD-3-Clause", False),
        (["License: UNKNOWN", "Classifier: License :: OSI Approved :: ISC License (ISCL)"], "ISC License (ISCL)", False),
        (["License: Redistribution is", "        permitted", "Classifier: License :: Public Domain"], "Public Domain", False),
        ([f"License: {'long ' * 30}"], "", False),
        (["Classifier: License :: A", "Classifier: Topic :: Education", "Classifier: License :: B :: C"], "A; C", False),
        (["License: "], "", False),
        ([], "", False),
    ],
)  # fmt: skip
def test_licence_is_what_the_wheel_says_and_never_a_guess(tmp_path, about, words, is_expression):
    wheel = invented_wheel(tmp_path, "rack", about=about)
    assert bill.licence(bill.description(wheel)) == (words, is_expression)
    (component,) = bill.kit_bill({wheel: "0" * 64})["components"]
    told = bill.licences([wheel])
    if not words:
        assert "licenses" not in component
        assert bill.UNTOLD in json.dumps(component) and f"rack 1.0: {bill.UNTOLD}" in told
    else:
        (told_by_bill,) = component["licenses"]
        assert (told_by_bill if is_expression else told_by_bill["license"])[
            "expression" if is_expression else "name"
        ] == words
        assert f"rack 1.0: {words}" in told.splitlines()


def test_bill_lists_every_wheel_of_the_kit_as_the_standard_asks(stick):
    invented_wheel(stick / "wheels", "salt", tag="cp311-cp311-win_amd64", version="1.0+local.2")
    invented_wheel(stick / "wheels", "Wet_Bulb", about=("License-Expression: MIT",))
    (stick / "LICENSE").write_text("Under a licence of its own.")
    kit.write_checks(stick, stick, [("linux-x86_64", "3.11")])
    told = json.loads((stick / "sbom.json").read_text(encoding="utf-8"))
    assert_standard(told)
    listed = {one["bom-ref"]: one for one in told["components"]}
    assert set(listed) == {path.name for path in (stick / "wheels").iterdir()}
    for path in (stick / "wheels").iterdir():
        assert listed[path.name]["hashes"][0]["content"] == hashlib.sha256(path.read_bytes()).hexdigest()
    assert listed["Wet_Bulb-1.0-py3-none-any.whl"]["purl"].startswith("pkg:pypi/wet-bulb@1.0?")
    assert listed["salt-1.0+local.2-cp311-cp311-win_amd64.whl"]["version"] == "1.0+local.2"
    lines = (stick / "licences.txt").read_text(encoding="utf-8").splitlines()
    first = next(line for line in lines if ": " in line and line.split(":")[0].endswith("1.0"))
    assert first.endswith(bill.UNTOLD), "what is not told comes first"
    assert "wet-bulb 1.0: MIT" in lines and lines[-1] == "Under a licence of its own."


def test_own_bill_is_that_of_the_project_and_goes_into_the_wheel():
    """After a change of pyproject.toml: python -m flakeyard.bill"""
    import tomllib

    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    told = json.loads((ROOT / bill.OWN).read_text(encoding="utf-8"))
    assert told == bill.project_bill(text)
    assert_standard(told)
    given = tomllib.loads(text)
    assert given["tool"]["hatch"]["build"]["targets"]["wheel"]["sbom-files"] == [bill.OWN]
    assert len(told["components"]) == len(given["project"]["dependencies"]) + sum(
        len([one for one in some if not one.startswith("flakeyard[")])
        for some in given["project"]["optional-dependencies"].values()
    )


# --- the whole kit ----------------------------------------------------------------------------------------------------


def test_kit_without_wheels_asks_no_network(tmp_path, monkeypatch):
    def refuse(*_):
        raise AssertionError("a network was asked")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(kit.subprocess, "run", refuse)
    assert (
        cli.main(
            ["kit", str(tmp_path / "kit"), "--without", "wheels", "--without", "explorers", "--without", "handouts"]
        )
        == 0
    )
    assert {path.name for path in (tmp_path / "kit" / "papers").iterdir()} == {
        "worksheets.pdf", "worksheets-leader.pdf", "card-heron.pdf", "card-otter.pdf", "card-kingfisher.pdf",
    }  # fmt: skip
    assert "pip install" not in (tmp_path / "kit" / "install.txt").read_text()
    assert not (tmp_path / "kit" / "requirements.txt").exists()
    assert "CC BY 4.0" in (tmp_path / "kit" / "licences.txt").read_text(encoding="utf-8")
    assert "papers/worksheets.pdf" in (tmp_path / "kit" / "SHA256SUMS").read_text()


@pytest.mark.parametrize("option", ["--platform", "--python", "--without"])
def test_unknown_choices_are_refused_by_name(tmp_path, option, capsys):
    assert cli.main(["kit", str(tmp_path / "kit"), option, "herring"]) == 2
    assert "herring" in capsys.readouterr().err
    assert not (tmp_path / "kit").exists()
    with pytest.raises(InputError):
        kit.collect(tmp_path, tmp_path / "kit", ["herring"], None, [])


@pytest.mark.slow
def test_collected_kit_installs_with_the_index_switched_off(tmp_path):
    """Collects for this computer (asks the registry), then installs in a fresh environment that may ask nothing."""
    python = f"{sys.version_info[0]}.{sys.version_info[1]}"
    ready = os.environ.get("FLAKEYARD_KIT")
    folder = Path(ready) if ready else tmp_path / "kit"
    if not ready:
        parts = ["--without", "explorers", "--without", "handouts", "--without", "papers"]
        assert cli.main(["kit", str(folder), "--platform", "linux-x86_64", "--python", python, *parts]) == 0
    subprocess.run([sys.executable, "-m", "venv", tmp_path / "fresh"], check=True)
    fresh = tmp_path / "fresh" / "bin"
    closed = {
        **os.environ, "PIP_NO_INDEX": "1", "PIP_CONFIG_FILE": os.devnull, "PIP_NO_CACHE_DIR": "1",
        "http_proxy": "http://127.0.0.1:9", "https_proxy": "http://127.0.0.1:9",
    }  # fmt: skip
    for name in ("PIP_INDEX_URL", "PIP_EXTRA_INDEX_URL", "PIP_FIND_LINKS", "PYTHONPATH"):
        closed.pop(name, None)
    told = shlex.split(kit.commands()["Linux"][0].partition("&& ")[2])[1:]
    subprocess.run([fresh / "python", *told, "-q"], cwd=folder, env=closed, check=True)
    told = subprocess.run([fresh / "flakeyard", "check"], cwd=tmp_path, env=closed, capture_output=True, text=True)
    assert told.returncode == 0, told.stdout + told.stderr
    code = "from flakeyard import cli; from flakeyard.workbook import start; print(cli.course_folder()); print(start.check())"
    told = subprocess.run([fresh / "python", "-c", code], cwd=tmp_path, env=closed, capture_output=True, text=True)
    assert told.stdout.splitlines()[-1] == "ready", told.stdout + told.stderr
    assert (tmp_path / "flakeyard-class" / "workbooks" / "00-start-here.ipynb").exists()


@pytest.mark.slow
def test_wheel_put_together_again_installs_like_the_built_one(tmp_path):
    """From an environment that has the package installed from a wheel; the two wheels hold the same files."""
    built = kit.own_wheel(cli.course_folder(), tmp_path)
    place = tmp_path / "installed"
    subprocess.run(
        [sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--no-index", "--target", place, built], check=True
    )
    (distribution,) = kit.importlib.metadata.distributions(name="flakeyard", path=[str(place)])
    (tmp_path / "again").mkdir()
    again = kit._rebuilt(distribution, tmp_path / "again")
    with zipfile.ZipFile(built) as first, zipfile.ZipFile(again) as second:
        assert {name for name in first.namelist() if not name.endswith("/")} == set(second.namelist())
        (own,) = [name for name in second.namelist() if name.endswith(f".dist-info/sboms/{Path(bill.OWN).name}")]
        assert json.loads(second.read(own)) == json.loads((ROOT / bill.OWN).read_text(encoding="utf-8"))
    subprocess.run(
        [
            sys.executable,
            "-m",
            "pip",
            "install",
            "-q",
            "--no-deps",
            "--no-index",
            "--target",
            tmp_path / "twice",
            again,
        ],
        check=True,
    )
