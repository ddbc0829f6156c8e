"""The notebook's door: what `import physics` offers, and that it costs nothing until it is asked for."""

import ast
import inspect
import subprocess
import sys
from pathlib import Path

import pytest

import physics

NAMES = (
    "Build Pack Protection Motor Controller PowerLevel Driveline Bike Conditions run RunResult headroom line_limit "
    "voltage_window reach_target gearing_map likely read_log fit_log"
)  # fmt: skip


def test_the_door_has_these_names_and_no_other():
    """property: what is agreed is in `__all__`, in `dir`, and imports with a star."""
    names: dict = {}
    exec("from physics import *", names)
    assert sorted(physics.__all__) == sorted(NAMES.split()) == dir(physics)
    assert names.keys() - {"__builtins__"} == set(physics.__all__)
    with pytest.raises(AttributeError, match="no attribute 'chance'"):
        _ = physics.chance


@pytest.mark.parametrize("name", NAMES.split())
def test_every_name_says_what_it_is(name):
    """property: a docstring of its own."""
    assert inspect.getdoc(getattr(physics, name))


def test_type_checkers_see_what_is_there():
    """property: the imports for type checkers lead to the very same objects, and name all of them."""
    tree = ast.parse(Path(physics.__file__).read_text(encoding="utf-8"))
    block = next(node for node in tree.body if isinstance(node, ast.If))
    names: dict = {}
    exec(compile(ast.Module(block.body, []), "door", "exec"), names)
    assert names.keys() - {"__builtins__"} == set(physics.__all__)
    assert all(names[name] is getattr(physics, name) for name in physics.__all__)


def test_a_part_loads_without_the_rest():
    """property: the units alone bring neither pandas nor scipy.optimize, which take most of a second."""
    heavy = {"pandas", "scipy.optimize", "physics.build"}
    code = f"import sys, physics.units; sys.exit(bool({heavy} & set(sys.modules)))"
    subprocess.run([sys.executable, "-c", code], check=True, cwd=Path(physics.__file__).parents[1])
