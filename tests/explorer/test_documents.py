"""README.md and DEVELOPERS.md against the tree: every module has its place, what they name exists, examples run."""

import re
from fnmatch import fnmatch
from pathlib import Path

import numpy as np
import pytest

TOP = Path(__file__).parents[2]
README = (TOP / "README.md").read_text(encoding="utf-8")
GUIDE = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
NAMED = set(re.findall(r"`([^`\n]+)`", GUIDE))


@pytest.mark.parametrize("room", ["physics", "explorer"])
def test_the_guide_names_every_module(room):
    """property: each file of a room stands in its table, alone or in a pattern such as ridelog*.py."""
    files = [path.name for path in (TOP / room).glob("*.py") if path.name != "__init__.py"]
    missing = sorted(name for name in files if not any(fnmatch(name, pattern) for pattern in NAMED))
    assert not missing, f"DEVELOPERS.md says nothing about {', '.join(missing)} in {room}/"


def test_what_the_guide_names_exists():
    """property: every file, folder and test named in backticks is in the tree."""
    roots = [TOP, *(TOP / room for room in ("physics", "explorer", "explorer/sections", "tests", "tests/physics"))]
    for name in NAMED:
        if re.fullmatch(r"[\w./*-]+(\.(py|csv|txt|toml|ini|\*)|/)", name) and not name.startswith(".browser"):
            assert any(list(root.glob(name.rstrip("/"))) for root in roots), name
        if re.fullmatch(r"python -m [\w.]+( --\w+)?", name):
            module = name.split()[2].replace(".", "/")
            assert (TOP / f"{module}.py").exists() or (TOP / module / "__main__.py").exists(), name


def test_only_these_stand_at_the_top():
    """hand-worked: what somebody sees who opens the repository."""
    ours = {"README.md", "DEVELOPERS.md", "requirements.txt", "explorer", "physics", "tests"}
    assert ours <= {path.name for path in TOP.iterdir()}


def test_the_readme_has_one_command_each():
    """property: a marked block of one line to open the page, and one to run the tests."""
    for command, part in (("open", "streamlit run explorer/app.py"), ("test", "-m pytest")):
        block = re.search(rf"<!-- command: {command} -->\n```\n(.*?)\n```", README, re.DOTALL)
        assert block
        assert "\n" not in block[1]
        assert part in block[1]
        assert "-r requirements.txt" in block[1]


def test_the_readme_example_runs(capsys):
    """property: the example of physics alone gives a top speed and a sentence."""
    code = re.search(r"```python\n(.*?)```", README, re.DOTALL)[1]
    names: dict = {}
    exec(code, names)
    assert np.isfinite(names["result"].top_speed).all()
    assert "The run went on to its end" in capsys.readouterr().out
