"""What is installed, what the library may not do, and that help and README tell the truth."""

from __future__ import annotations

import ast
import importlib.metadata
import os
import re
import shlex
import shutil
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

import cupgeom
from cli.main import COMMANDS, program

from .command_line import SCRIPT, ask, child

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())
README = (ROOT / "README.md").read_text()
LIBRARY = sorted((ROOT / "cupgeom").rglob("*.py"))
COMMAND_LINE = sorted((ROOT / "cli").rglob("*.py"))
OPENING = {"open", "fdopen", "read_text", "read_bytes", "write_text", "write_bytes", "mkstemp", "NamedTemporaryFile"}
SHOP = """
[cups."tapered 20"]
rim_around = "10 7/8 in"
base_around = "8 5/8 in"
slant = "6 3/4 in"

[printers.office.letter]
printed_bar = "99.2mm x 100.4mm"
"""
STARS = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20">
<path d="M5 10 20 3 35 10 20 17z" fill="#1b2a5b"/></svg>"""
JOB = """cup = "tapered 20"
quantity = 1
start = 2026-03-02
steps = ["flood", "sand", { do = "decal", decals = ["stars"] }, "clear"]
decals.stars = { art = "stars.svg", medium = "white water-slide", width = 40, drop = 60 }
"""
CLICK = click.Context(program, info_name="cupgeom")


def commands() -> Iterator[click.Command]:
    for name in program.list_commands(CLICK):
        command = program.get_command(CLICK, name)
        assert command is not None
        yield command


def options(command: click.Command) -> set[str]:
    context = click.Context(command, parent=CLICK)
    return {name for param in command.get_params(context) for name in (*param.opts, *param.secondary_opts)}


# The package ----------------------------------------------------------------------------------------------------------


def test_every_folder_with_an_init_is_a_package() -> None:
    folders = {".".join(file.parent.relative_to(ROOT).parts) for file in LIBRARY if file.name == "__init__.py"}
    assert sorted(PROJECT["tool"]["setuptools"]["packages"]) == sorted(folders | {"cupgeom_cli"})


def test_every_folder_of_the_library_has_an_init() -> None:
    assert {file.parent for file in LIBRARY} == {file.parent for file in LIBRARY if file.name == "__init__.py"}


def test_the_command_line_is_one_flat_folder() -> None:
    assert {file.parent for file in COMMAND_LINE} == {ROOT / "cli"}


def test_one_version() -> None:
    assert cupgeom.__version__ == PROJECT["project"]["version"] == importlib.metadata.version("cupgeom")


@pytest.mark.parametrize("start", [[SCRIPT], [sys.executable, "-m", "cupgeom_cli"]], ids=["script", "module"])
def test_the_installed_command_runs_anywhere(start: list[Path | str], tmp_path: Path) -> None:
    answer = child(*start, "--version", cwd=tmp_path)
    assert (answer.returncode, answer.stdout, answer.stderr) == (0, f"cupgeom, version {cupgeom.__version__}\n", "")
    answer = child(*start, "area", "--rim", "0", cwd=tmp_path)
    assert (answer.returncode, answer.stdout) == (2, "")
    assert answer.stderr == "cupgeom: --rim: must be at least 1 mm, got 0 mm\n"


def test_no_module_named_cli_is_installed(tmp_path: Path) -> None:
    answer = child(sys.executable, "-E", "-c", "import importlib.util as u; print(u.find_spec('cli'))", cwd=tmp_path)
    assert answer.stdout == "None\n"


def test_the_library_does_without_the_command_line(tmp_path: Path) -> None:
    work = "import sys; from cupgeom import Cup, Template; print(Cup.frustum(32, 14, 40).slant, 'click' in sys.modules)"
    answer = child(sys.executable, "-c", work, cwd=tmp_path)
    assert answer.stdout == "41.0 False\n"  # 9² + 40² = 41²


def test_a_console_that_lacks_a_letter_is_no_reason_to_stop(tmp_path: Path) -> None:
    line = [SCRIPT, *shlex.split("area --rim 88 --base 70 --height 170 --name コメット")]
    answer = child(*line, cwd=tmp_path, env=os.environ | {"PYTHONIOENCODING": "cp1252"}, errors="replace")
    assert (answer.returncode, answer.stderr) == (0, "")
    assert r"(\u30b3\u30e1\u30c3\u30c8)" in answer.stdout


# What the code may not do ---------------------------------------------------------------------------------------------


def imported(tree: ast.AST) -> Iterator[str]:
    """The modules that a module names in absolute imports."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            yield node.module or ""


def called(tree: ast.AST) -> Iterator[str]:
    """The last names of what a module calls; a picture that is opened from bytes in memory is no file."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and not ast.unparse(node).startswith("Image.open(io.BytesIO("):
            yield node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def faults_of_library_code(source: str) -> set[str]:
    """What a module of the library does that it may not."""
    tree = ast.parse(source)
    imports = {name.split(".")[0] for name in imported(tree)}
    names = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    return (
        imports & {"click", "cli", "cupgeom_cli", "logging", "warnings", "subprocess", "tempfile", "shutil"}
        | set(called(tree)) & (OPENING | {"print", "input", "exit"})
        | names & {"stdout", "stderr", "environ"}
    )


@pytest.mark.parametrize("file", LIBRARY, ids=lambda file: str(file.relative_to(ROOT)))
def test_the_library_prints_nothing_and_opens_no_file(file: Path) -> None:
    assert faults_of_library_code(file.read_text()) == set()


@pytest.mark.parametrize(
    ("source", "fault"),
    [
        ("print(1)", "print"),
        ("with open('a') as b: pass", "open"),
        ("from pathlib import Path\nPath('a').read_text()", "read_text"),
        ("import sys\nsys.stderr.write('a')", "stderr"),
        ("def f():\n    import click.core", "click"),
        ("from cli.main import run", "cli"),
    ],
)
def test_the_check_of_library_code_can_fail(source: str, fault: str) -> None:
    assert faults_of_library_code(source) == {fault}


@pytest.mark.parametrize("file", COMMAND_LINE, ids=lambda file: file.name)
def test_the_command_line_imports_itself_relatively(file: Path) -> None:
    assert not {name.split(".")[0] for name in imported(ast.parse(file.read_text()))} & {"cli", "cupgeom_cli"}


def test_only_the_store_opens_files() -> None:
    openers = {file.stem for file in COMMAND_LINE if set(called(ast.parse(file.read_text()))) & OPENING}
    assert openers == {"store"}


# Help and README ------------------------------------------------------------------------------------------------------


def test_the_list_of_commands_says_what_each_says_of_itself() -> None:
    assert [command.name for command in commands()] == list(COMMANDS)
    assert {command.name: (command.help or "").splitlines()[0] for command in commands()} == COMMANDS


@pytest.mark.parametrize("asked", ["", "--help", "-h"])
def test_help_of_the_whole_goes_to_stdout(asked: str) -> None:
    answer = ask(asked)
    assert (answer.code, answer.err) == (0, "")
    assert answer.out.startswith("Usage: cupgeom ")
    assert all(f"  {name} " in answer.out for name in COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_has_help_that_fits_a_terminal(name: str) -> None:
    (command,) = (command for command in commands() if command.name == name)
    assert all(getattr(param, "help", None) for param in command.params if isinstance(param, click.Option))
    answer = ask(f"{name} --help")
    assert (answer.code, answer.err) == (0, "")
    assert [line for line in answer.out.splitlines() if len(line) > 80] == []
    assert all(option in answer.out for option in options(command))


@pytest.mark.parametrize("name", COMMANDS)
def test_the_examples_in_the_help_work(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text(SHOP)
    Path("stars.svg").write_text(STARS)
    Path("comet.toml").write_text(JOB)
    Path("guests.csv").write_text("name,qty\nAda,1\nGrace,2\n")
    shutil.copytree(ROOT / "templates-demo" / "fonts", "fonts")
    told = ask(f"{name} --help").out.replace("\\\n", " ")
    examples = re.findall(rf"^ +cupgeom ({name} .+)$", told, re.MULTILINE)
    assert examples
    for example in examples:
        assert ask(example).code == 0


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_stands_in_the_readme(name: str) -> None:
    assert f"cupgeom {name} " in README


def test_every_option_in_the_readme_exists() -> None:
    known = {"--version", "--help"}.union(*(options(command) for command in commands()))
    named = set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", README))
    assert named
    assert named - known == set()


def test_what_the_readme_shows_is_what_is_said() -> None:
    shown = re.findall(r"```console\n\$ cupgeom (.+)\n((?:.+\n)*?)```", README)
    assert shown
    for line, expected in shown:
        assert ask(line).out == expected
