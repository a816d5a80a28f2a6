"""The README keeps its promises: every command stands in it, and every example runs and prints what is shown."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from typer.testing import CliRunner

from isohume.dashboard.cli import app

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)
ELLIPSIS = "…"


def examples() -> list[tuple[str, list[str]]]:
    """Commands of the console blocks, each with the lines shown below it."""
    found: list[tuple[str, list[str]]] = []
    for block in BLOCK.findall(README):
        for line in block.splitlines():
            if line.startswith("$ "):
                found.append((line[2:], []))
            elif found and line.strip() not in {"", ELLIPSIS}:
                found[-1][1].append(line)
    return found


def command_names() -> list[str]:
    shown = CliRunner().invoke(app, ["--help"], terminal_width=200)
    names = re.findall(r"^│? ?([a-z][a-z-]*)  ", shown.stdout, re.MULTILINE)
    assert len(names) >= 5, shown.stdout
    return names


@pytest.mark.parametrize("name", command_names())
def test_command_has_help_with_a_real_call_and_stands_in_the_readme(name: str) -> None:
    shown = CliRunner().invoke(app, [name, "--help"])
    assert shown.exit_code == 0
    assert f"isohume {name}" in shown.stdout, "the help shows one real call"
    assert f"isohume {name}" in README


@pytest.mark.parametrize(("command", "shown"), examples(), ids=lambda value: value if isinstance(value, str) else "")
def test_example_runs_and_prints_what_is_shown(
    command: str, shown: list[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("ISOHUME_ARCHIVE", str(tmp_path / "archive"))
    program, *arguments = shlex.split(command)
    assert program == "isohume"
    outcome = CliRunner().invoke(app, arguments)
    assert outcome.exit_code == 0, outcome.output
    for line in shown:
        for part in line.split(ELLIPSIS):
            assert part.strip() in outcome.output


def test_paths_named_in_the_readme_exist() -> None:
    for path in re.findall(r"`([\w/. -]+/[\w. -]*\.(?:py|toml|md|csv))`", README):
        assert (ROOT / path).exists(), path
