"""The README keeps its promises: every command stands in it, and every example runs and prints what is shown."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any

import pytest
from typer.main import get_command
from typer.testing import CliRunner

from isohume.dashboard.cli import app

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)
ELLIPSIS = "…"


def examples(block: str) -> list[tuple[str, list[str]]]:
    """Commands of a console block, each with the lines shown below it."""
    found: list[tuple[str, list[str]]] = []
    for line in block.splitlines():
        if line.startswith("$ "):
            found.append((line[2:], []))
        elif line.strip():
            found[-1][1].append(line)
    return found


def command_paths() -> list[str]:
    """Every command, a command of a group with the group's name before it."""

    def below(command: Any, path: str) -> list[str]:
        inner = getattr(command, "commands", {})
        return [name for key, one in inner.items() for name in below(one, f"{path} {key}")] or [path]

    return [path.strip() for path in below(get_command(app), "")]


@pytest.mark.parametrize("path", command_paths())
def test_command_has_help_with_a_real_call_and_stands_in_the_readme(path: str) -> None:
    shown = CliRunner().invoke(app, [*path.split(), "--help"], terminal_width=200)
    assert shown.exit_code == 0
    assert f"Example: isohume {path}" in " ".join(shown.stdout.split()), "the help shows one real call"
    assert f"`isohume {path}" in README


# The demonstration takes long: tests/test_demonstration.py runs it, once, and looks closer.
BLOCKS = [block for block in BLOCK.findall(README) if not block.startswith("$ isohume demo")]


@pytest.mark.parametrize("block", BLOCKS, ids=lambda block: block.splitlines()[0][2:40])
def test_examples_run_and_print_what_is_shown(block: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(ROOT)
    monkeypatch.setenv("ISOHUME_ARCHIVE", str(tmp_path / "archive"))
    for command, shown in examples(block):
        program, *words = shlex.split(command)
        assert program == "isohume"
        outcome = CliRunner().invoke(app, [argument for word in words for argument in expanded(word)])
        assert outcome.exit_code == 0, f"{command}\n{outcome.output}"
        for part in (part.strip() for line in shown for part in line.split(ELLIPSIS)):
            assert part in outcome.stdout, f"{command}: {part}"


def expanded(word: str) -> list[str]:
    """Do the shell's part: a pattern stands for the files that match it."""
    return sorted(str(path) for path in Path().glob(word)) if "*" in word else [word]


def test_paths_named_in_the_readme_exist() -> None:
    for path in re.findall(r"`([\w/. -]+/[\w. -]*\.(?:py|toml|md|csv))`", README):
        assert (ROOT / path).exists(), path
