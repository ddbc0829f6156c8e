"""README.md and DEVELOPERS.md against the tree: every room has its place, what they name exists, examples run."""

import re
from pathlib import Path

import numpy as np
import pytest

TOP = Path(__file__).parents[2]
README = (TOP / "README.md").read_text(encoding="utf-8")
GUIDE = (TOP / "DEVELOPERS.md").read_text(encoding="utf-8")
TOPS = ("physics", "explorer", "tests")
NAMED = set(re.findall(r"`([^`\n]+)`", GUIDE))


def rooms(package):
    """Folders and files that stand directly in a package."""
    for path in sorted((TOP / package).iterdir()):
        if path.name.startswith("_") or (path.is_dir() and not any(path.glob("*.py"))):
            continue
        yield f"{path.name}/" if path.is_dir() else path.name


@pytest.mark.parametrize("package", ["physics", "explorer"])
def test_the_guide_names_every_room(package):
    """property: each folder, and each file beside them, stands in the tables of DEVELOPERS.md."""
    missing = sorted(set(rooms(package)) - NAMED)
    assert not missing, f"DEVELOPERS.md says nothing about {', '.join(missing)} in {package}/"


def test_what_the_guide_names_exists():
    """property: every file, folder and module named in backticks is in the tree."""
    for name in NAMED:
        if re.fullmatch(r"[\w./*-]+(\.(py|js|csv|txt|toml|ini|\*)|/)", name) and not name.startswith(".browser"):
            place = name.rstrip("/")
            assert (TOP / place).exists() or any(any((TOP / top).rglob(place)) for top in TOPS), name
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
