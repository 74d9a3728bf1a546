"""What is given to others: a source archive, and a wheel built from it that works where it is unpacked."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import zipfile
from email.parser import Parser
from pathlib import Path

import pytest

import estimator

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def dist(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the sdist, and the wheel that was built from the sdist."""
    folder = tmp_path_factory.mktemp("dist")
    subprocess.run(
        [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(folder), str(ROOT)],
        check=True,
        capture_output=True,
    )
    return folder


@pytest.fixture(scope="module")
def wheel(dist: Path) -> zipfile.ZipFile:
    return zipfile.ZipFile(next(dist.glob("*.whl")))


@pytest.fixture(scope="module")
def unpacked(wheel: zipfile.ZipFile, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Only the wheel's files, as an installer places them."""
    folder = tmp_path_factory.mktemp("installed")
    wheel.extractall(folder)
    return folder


def runs(unpacked: Path, program: str, tmp_path: Path) -> str:
    """What a program prints when it can find the package only where the wheel was unpacked."""
    done = subprocess.run(
        [sys.executable, "-P", "-c", program],
        env={**os.environ, "PYTHONPATH": str(unpacked), "MOWCHARGE_LOGBOOK": str(tmp_path / "book.sqlite")},
        cwd=tmp_path,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_wheel_holds_the_package_whole(wheel: zipfile.ZipFile) -> None:
    package = ROOT / "estimator"
    ours = {
        path.relative_to(ROOT).as_posix()
        for path in package.rglob("*")
        if path.is_file() and (path.suffix == ".py" or path.parent.name in ("templates", "static"))
    }
    held = {name for name in wheel.namelist() if name.startswith("estimator/") and "_sample_logs" not in name}
    assert held == ours | {"estimator/py.typed"}


def test_the_wheel_holds_every_sample_log(wheel: zipfile.ZipFile) -> None:
    ours = {
        path.relative_to(ROOT / "sample_logs").as_posix()
        for path in (ROOT / "sample_logs").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    start = "estimator/_sample_logs/"
    assert {name.removeprefix(start) for name in wheel.namelist() if name.startswith(start)} == ours


def test_the_wheel_holds_nothing_else(wheel: zipfile.ZipFile) -> None:
    tops = {name.partition("/")[0] for name in wheel.namelist()}
    assert tops == {"estimator", f"mowcharge-{estimator.__version__}.dist-info"}
    assert not [name for name in wheel.namelist() if "__pycache__" in name or "/tests/" in name]


def test_the_wheel_says_what_it_is(wheel: zipfile.ZipFile) -> None:
    inside = f"mowcharge-{estimator.__version__}.dist-info"
    said = Parser().parsestr(wheel.read(f"{inside}/METADATA").decode())
    assert said["Version"] == estimator.__version__
    assert said["License-Expression"] == "MIT"
    assert wheel.read(f"{inside}/licenses/LICENSE") == (ROOT / "LICENSE").read_bytes()
    assert {"page", "postgres", "xlsx", "dev"} <= set(said.get_all("Provides-Extra") or ())
    assert "mowcharge = estimator.cli:main" in wheel.read(f"{inside}/entry_points.txt").decode()


def test_the_sdist_holds_what_it_is_built_and_tested_from(dist: Path) -> None:
    with tarfile.open(next(dist.glob("*.tar.gz"))) as held:
        names = {name.partition("/")[2] for name in held.getnames()}
    assert {
        "pyproject.toml", "README.md", "DEVELOPERS.md", "LICENSE", "estimator/py.typed", "tests/conftest.py",
        "sample_logs/generate.py", "notebooks/first_mow.ipynb",
    } <= names  # fmt: skip
    assert not [name for name in names if "__pycache__" in name or name.endswith(".pyc")]


def test_the_unpacked_wheel_answers_and_shows_its_page(unpacked: Path, tmp_path: Path) -> None:
    program = (
        "import re, sys\n"
        "from pathlib import Path\n"
        "import estimator\n"
        "from estimator.answers.keeping.samples import samples_folder\n"
        "from estimator.cli import main\n"
        "from estimator.page.app import make_app\n"
        "from estimator.page.settings import PageSettings\n"
        "from starlette.testclient import TestClient\n"
        "print(Path(estimator.__file__).parent, samples_folder())\n"
        "settings = PageSettings(Path('book.sqlite'), frozenset({'testserver'}), 'a secret')\n"
        "with TestClient(make_app(settings), headers={'authorization': 'Bearer a secret'}) as visitor:\n"
        "    first = visitor.get('/')\n"
        "    style = re.search('/own/mow[^\"]+css', first.text)\n"
        "    print(first.status_code, visitor.get(style[0]).status_code)\n"
        "sys.argv[1:] = ['--help']\n"
        "main()\n"
    )
    said = runs(unpacked, program, tmp_path)
    where, samples, *_ = said.split()
    assert Path(where) == unpacked / "estimator"
    assert Path(samples) == unpacked / "estimator" / "_sample_logs"
    assert "200 200" in said
    assert "minutes" in said, "the help lists the commands"
