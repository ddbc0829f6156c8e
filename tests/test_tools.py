"""The linter, the formatter and the checker of types find nothing in the whole tree.

property: their own judgement, with the settings in .ruff.toml and .mypy.ini.
"""

import subprocess
import sys
from pathlib import Path

import pytest


@pytest.mark.parametrize("command", ["ruff check .", "ruff format --check .", "mypy"])
def test_the_tools_find_nothing(command):
    tool = [sys.executable, "-m", *command.split()]
    result = subprocess.run(tool, cwd=Path(__file__).parents[1], capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stdout + result.stderr
