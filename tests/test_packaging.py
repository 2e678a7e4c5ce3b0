"""The package as people get it: a wheel made from the sdist, an editable install, the bare checkout.

Everything is built from a copy, without an index: a new environment sees the libraries of the one that runs the tests
through a path file, behind whatever is installed into it.
"""

from __future__ import annotations

import importlib.metadata
import os
import shutil
import subprocess
import sys
import sysconfig
import tomllib
import venv
import zipfile
from pathlib import Path, PurePosixPath

import pytest

import isolint
from tests.conftest import REPOSITORY, environment

pytestmark = pytest.mark.xdist_group("packaging")

PROJECT = tomllib.loads((REPOSITORY / "pyproject.toml").read_text(encoding="utf-8"))

# An expression, an optional tail and a nested sheet: the fast ways through the reader must not be enough.
NETLIST = """\
* a divider in a sheet, invented
.param ratio = 3
V1 in 0 5
X1 in out 0 divider
.subckt divider a b c
R1 a b {1k * ratio}
R2 b c 1k
.ends
"""


def call(*command: str, cwd: Path, **changes: str) -> subprocess.CompletedProcess[str]:
    """Run a command without this checkout on the path."""
    variables = {key: value for key, value in environment().items() if key != "PYTHONPATH"}
    return subprocess.run(
        command,
        cwd=cwd,
        env={**variables, **changes},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=300,
        check=False,
    )


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the checkout, so that building leaves nothing behind in it."""
    release = importlib.metadata.version("setuptools").split(".")[0]
    if int(release) < 77:
        pytest.fail(f"setuptools {release} is too old to build with: pip install -e '.[test]'")
    target = tmp_path_factory.mktemp("source") / "isolint"
    ignored = shutil.ignore_patterns(".*", "__pycache__", "*.egg-info", "build", "dist")
    shutil.copytree(REPOSITORY, target, ignore=ignored)
    shutil.copy(REPOSITORY / ".pre-commit-hooks.yaml", target)
    return target


@pytest.fixture(scope="module")
def built(copy: Path) -> tuple[Path, Path]:
    """The sdist, and the wheel that was made from it."""
    out = copy.parent / "dist"
    done = call(sys.executable, "-m", "build", "--no-isolation", "--outdir", str(out), str(copy), cwd=copy.parent)
    assert done.returncode == 0, done.stdout + done.stderr
    (sdist,) = out.glob("*.tar.gz")
    (wheel,) = out.glob("*.whl")
    return sdist, wheel


def environment_with(folder: Path, *arguments: str) -> Path:
    """Make an environment, install into it as `arguments` say, and give the folder of its scripts."""
    venv.create(folder, with_pip=False, symlinks=os.name != "nt")
    scripts = folder / ("Scripts" if os.name == "nt" else "bin")
    python = scripts / ("python.exe" if os.name == "nt" else "python")
    found = call(str(python), "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", cwd=folder)
    libraries = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    (Path(found.stdout.strip()) / "libraries.pth").write_text("\n".join(sorted(libraries)) + "\n", encoding="utf-8")
    install = ("install", "--quiet", "--no-index", "--no-deps", "--no-build-isolation", "--ignore-installed")
    done = call(sys.executable, "-m", "pip", "--python", str(python), *install, *arguments, cwd=folder)
    assert done.returncode == 0, done.stdout + done.stderr
    return scripts


def checks_from_elsewhere(command: list[str], folder: Path, package: Path, **changes: str) -> None:
    """Check a netlist from a folder that is not the checkout, with the package loaded from where it should be."""
    folder.mkdir()
    (folder / "board.cir").write_text(NETLIST, encoding="utf-8")
    done = call(*command, "check", "--passes", "board.cir", cwd=folder, **changes)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "100 % of cards read" in done.stdout
    code = (
        "import sys, isolint; from isolint.netlist.grammar import grammar_text\n"
        "print(isolint.__file__, *(len(grammar_text(name)) for name in sys.argv[1:]), sep='\\n')"
    )
    python = command[0] if command[0] == sys.executable else str(Path(command[0]).parent / "python")
    grammars = [path.stem for path in (REPOSITORY / "grammars").glob("*.lark")]
    told = call(python, "-c", code, *grammars, cwd=folder, **changes)
    assert told.returncode == 0, told.stderr
    origin, *lengths = told.stdout.splitlines()
    assert package in Path(origin).resolve().parents
    assert len(lengths) == len(grammars) > 0


def test_a_wheel_built_from_the_sdist_works_in_another_folder(built: tuple[Path, Path], tmp_path: Path) -> None:
    scripts = environment_with(tmp_path / "env", str(built[1]))
    checks_from_elsewhere([str(scripts / "isolint")], tmp_path / "elsewhere", (tmp_path / "env").resolve())


def test_an_editable_install_works_in_another_folder(copy: Path, tmp_path: Path) -> None:
    scripts = environment_with(tmp_path / "env", "--editable", str(copy))
    checks_from_elsewhere([str(scripts / "isolint")], tmp_path / "elsewhere", copy.resolve())


def test_a_bare_checkout_works_from_another_folder(tmp_path: Path) -> None:
    checks_from_elsewhere(
        [sys.executable, "-m", "isolint"], tmp_path / "elsewhere", REPOSITORY, PYTHONPATH=str(REPOSITORY)
    )


def test_the_wheel_holds_the_package_and_nothing_else(built: tuple[Path, Path]) -> None:
    names = [PurePosixPath(name) for name in zipfile.ZipFile(built[1]).namelist() if not name.endswith("/")]
    assert {name.parts[0] for name in names} == {"isolint", f"isolint-{isolint.__version__}.dist-info"}
    packaged = {str(name) for name in names if name.parts[0] == "isolint"}
    expected = {
        path.relative_to(REPOSITORY).as_posix()
        for path in (REPOSITORY / "isolint").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    grammars = {f"isolint/grammars/{path.name}" for path in (REPOSITORY / "grammars").glob("*.lark")}
    assert grammars
    assert packaged == expected | grammars


def test_the_listed_packages_are_those_that_exist() -> None:
    folders = {
        ".".join(path.parent.relative_to(REPOSITORY).parts) for path in (REPOSITORY / "isolint").rglob("__init__.py")
    }
    assert set(PROJECT["tool"]["setuptools"]["packages"]) == folders | {"isolint.grammars"}
    assert PROJECT["tool"]["setuptools"]["packages"] == sorted(PROJECT["tool"]["setuptools"]["packages"])


def test_the_version_is_the_same_in_both_places() -> None:
    assert PROJECT["project"]["version"] == isolint.__version__


def test_the_licence_is_the_last_section_of_the_readme() -> None:
    readme = (REPOSITORY / "README.md").read_text(encoding="utf-8")
    last = readme.rsplit("\n## ", 1)[1]
    assert last.startswith("Licence\n")
    assert "MIT License" in last
    assert 'THE SOFTWARE IS PROVIDED "AS IS"' in last
    assert PROJECT["project"]["license"] == "MIT"
