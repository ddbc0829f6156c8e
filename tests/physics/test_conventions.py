"""Conventions of the physics package, held for every module in it: docstrings, printing, examples."""

import ast
import doctest
import importlib
import re
import warnings
from pathlib import Path

import pytest

PHYSICS = Path(__file__).parents[2] / "physics"
MODULES = sorted(path for path in PHYSICS.rglob("*.py"))
HEADING = re.compile(r"^(?P<title>[A-Z][A-Za-z ]*)\n-{3,}[ ]*$", re.MULTILINE)
# A function that gives back one quantity may say so in its first line: "Sag, V: rest voltage minus loaded voltage."
NAMES_ITS_RESULT = re.compile(r"[A-Z][^.:]*, (?:V|A|W|J|K|N|Pa|kg|m|s|Ah|ohm|rad|[A-Za-z]+/[A-Za-z0-9]+|0 to 1)\b")


def _name(path):
    return ".".join(path.relative_to(PHYSICS.parent).with_suffix("").parts).removesuffix(".__init__")


def _tree(path):
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def _public_functions(tree):
    """Functions at module level and methods of classes there, without those named with an underscore."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node.name, node, False
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for inner in node.body:
                if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_"):
                    yield f"{node.name}.{inner.name}", inner, True


def _sections(docstring):
    """numpydoc sections: title to text."""
    parts = list(HEADING.finditer(docstring))
    ends = [part.start() for part in parts[1:]] + [len(docstring)]
    return {part["title"]: docstring[part.end() : end] for part, end in zip(parts, ends, strict=bool(parts))}


def _documented(section):
    """Names at the left edge of a Parameters section, before the colon; "a, b : float" documents two."""
    names = []
    for line in section.splitlines():
        if line and not line[0].isspace():
            names += [name.strip().lstrip("*") for name in line.partition(" :")[0].split(",")]
    return names


def _arguments(function, is_method):
    """The arguments a caller sees, in order."""
    given = function.args
    names = [argument.arg for argument in [*given.posonlyargs, *given.args, *given.kwonlyargs]]
    names += [argument.arg for argument in (given.vararg, given.kwarg) if argument]
    static = any(isinstance(mark, ast.Name) and mark.id == "staticmethod" for mark in function.decorator_list)
    return names[1:] if is_method and not static else names


def _gives_back(function):
    """Whether a function returns or yields anything."""
    inner = [node for node in ast.walk(function) if isinstance(node, ast.Return | ast.Yield | ast.YieldFrom)]
    return any(not isinstance(node, ast.Return) or node.value is not None for node in inner)


def _docstring_faults(tree):
    """What is wrong with the docstrings of one module, in sentences."""
    faults = [] if ast.get_docstring(tree) else ["the module has no docstring"]
    for node in tree.body:
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_") and not ast.get_docstring(node):
            faults.append(f"{node.name} has no docstring")
    for name, function, is_method in _public_functions(tree):
        text = ast.get_docstring(function)
        if not text:
            faults.append(f"{name} has no docstring")
            continue
        sections = _sections(text)
        arguments, documented = _arguments(function, is_method), _documented(sections.get("Parameters", ""))
        faults += [f"{name} documents {extra!r}, which it lacks" for extra in documented if extra not in arguments]
        if is_method:  # a method may be one sentence: the class says the rest
            continue
        faults += [f"{name} does not document {missing!r}" for missing in arguments if missing not in documented]
        said = sections.keys() & {"Returns", "Yields"} or NAMES_ITS_RESULT.match(text)
        if _gives_back(function) and not said:
            faults.append(f"{name} has no Returns section")
    return faults


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_docstrings_name_every_argument(path):
    """property: every public function documents exactly its arguments, and what it returns."""
    faults = _docstring_faults(_tree(path))
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_nothing_prints(path):
    """property: no call of print outside examples in docstrings."""
    calls = [node for node in ast.walk(_tree(path)) if isinstance(node, ast.Call)]
    printing = [call.lineno for call in calls if isinstance(call.func, ast.Name) and call.func.id == "print"]
    assert not printing, f"print on line {printing}"


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_no_global_is_rebound(path):
    """property: no function rebinds a module's name."""
    assert not [node.lineno for node in ast.walk(_tree(path)) if isinstance(node, ast.Global)]


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_examples_run(path):
    """property: every example in a docstring gives what it shows, without warnings."""
    module = importlib.import_module(_name(path))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        result = doctest.testmod(module, optionflags=doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS)
    assert result.failed == 0


FAULTY = """
def f(a, b):
    '''F.

    Parameters
    ----------
    a, c : float
        Two of them.
    '''
    return a


def g():
    return 1
"""

CLEAN = """
'''A module.'''


def f(a, b):
    '''F.

    Parameters
    ----------
    a, b : float
        Two of them.

    Returns
    -------
    float
        The first.
    '''
    return a
"""


def test_the_check_of_docstrings_itself():
    """hand-worked: no module docstring, b missing, c too many, no Returns, nothing on g: five faults, then none."""
    assert len(_docstring_faults(ast.parse(FAULTY))) == 5
    assert _docstring_faults(ast.parse(CLEAN)) == []
