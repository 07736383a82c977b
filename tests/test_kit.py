"""The kit for a class without a network: which wheels a computer needs, what the pages say, and a real install."""

import os
import socket
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from flakeyard import cli, kit
from flakeyard.units import InputError


def invented_wheel(folder: Path, name: str, needs: tuple[str, ...] = (), tag: str = "py3-none-any", version="1.0"):
    """A wheel that holds its own description and nothing else."""
    with zipfile.ZipFile(folder / f"{name}-{version}-{tag}.whl", "w") as wheel:
        lines = [
            "Metadata-Version: 2.1",
            f"Name: {name}",
            f"Version: {version}",
            *(f"Requires-Dist: {one}" for one in needs),
        ]
        wheel.writestr(f"{name}-{version}.dist-info/METADATA", "\n".join(lines))


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
    text, page = (tmp_path / "install.txt").read_text(), (tmp_path / "index.html").read_text()
    for told in (text, page):
        assert "--no-index --find-links wheels" in told
        assert "windows-arm64, Python 3.11: NOT complete, lacking scipy" in told
        assert "linux-x86_64, Python 3.12: complete" in told
        assert "When in doubt, throw it out" in told
    assert "http" not in page.replace("http-equiv", "")
    assert (tmp_path / "SHA256SUMS").read_text().count("\n") == 1


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
        "worksheets.pdf", "card-heron.pdf", "card-otter.pdf", "card-kingfisher.pdf",
    }  # fmt: skip
    assert "pip install" not in (tmp_path / "kit" / "install.txt").read_text()


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
    command = [fresh / "python", "-m", "pip", "install", "-q", "--no-index", "--find-links", "wheels", "flakeyard[lab]"]
    subprocess.run(command, cwd=folder, env=closed, check=True)
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
