"""The house: which room may import which, who draws, who knows whom; read from the source, nothing is imported.

property: every check holds for every file of both packages.
"""

import ast
from functools import cache
from pathlib import Path

import pytest

TOP = Path(__file__).parents[1]
# Lowest first: a file imports from its own row and the rows above it, never from one below.
ROOMS = {
    "physics": (
        ("arrays", "units", "limits"),
        ("components",),
        ("typical",),
        ("build",),
        ("ridelog",),
        ("simulation",),
        ("scenarios",),
        ("fitting",),
        ("studies",),
        ("__init__",),
    ),
    "explorer": (
        ("__init__",),
        ("components",),
        ("format",),
        ("charts",),
        ("inputs",),
        ("state",),
        ("page",),
        ("derivations",),
        ("frame",),
        ("questions",),
        ("whole",),
        ("app", "network"),
    ),
}
GATHERER = "setup_sheet"  # the one question that reads the others' answers
# Package from outside: the places that may import it, as they begin; the rest of the house stays free of it.
OUTSIDERS = {
    "streamlit": (
        "explorer.app", "explorer.network", "explorer.whole",
        "explorer.components.", "explorer.frame.", "explorer.state.state", "explorer.page.results",
    ),
    "plotly": ("explorer.components.",),
    "pint": ("physics.units",),
}  # fmt: skip
# Of a question, these draw or keep in Streamlit's cache; what a rider edits there has a file of its own.
DRAWING_FILES = {
    "section", "results",
    "gearing.chain", "packs_on_offer.offers", "remembered.facts", "ride_log.columns", "ride_log.parts",
    "ride_log.rides", "ride_log.source", "ride_log.upload", "speedometer.readings", "what_gets_me_there.allowed",
}  # fmt: skip
# To be used without a screen, with all they import.
WITHOUT_SCREEN = (
    "explorer.format", "explorer.charts.", "explorer.inputs.", "explorer.page.words", "explorer.page.pool",
    "physics.",
)  # fmt: skip
MOST_FILES, MOST_LINES = 18, 400

FILES = {
    ".".join(path.relative_to(TOP).with_suffix("").parts): path
    for package in ROOMS
    for path in sorted((TOP / package).rglob("*.py"))
}


@cache
def tree(module: str) -> ast.Module:
    return ast.parse(FILES[module].read_text(encoding="utf-8"), filename=str(FILES[module]))


def module_of(name: str) -> str:
    """The file behind a dotted name: "a.b.thing" may be the module a.b.thing, or thing in a.b."""
    for candidate in (name, f"{name}.__init__", name.rpartition(".")[0], f"{name.rpartition('.')[0]}.__init__"):
        if candidate in FILES:
            return candidate
    return name


def imports(part: ast.AST):
    """Dotted name and local name of everything imported in a part of a file, inside functions too."""
    for node in ast.walk(part):
        if isinstance(node, ast.Import):
            yield from ((alias.name, alias.asname or alias.name.split(".")[0]) for alias in node.names)
        if isinstance(node, ast.ImportFrom):
            assert not node.level, "a relative import hides from which room it comes"
            yield from ((f"{node.module}.{alias.name}", alias.asname or alias.name) for alias in node.names)


def room_and_rank(module: str) -> tuple[str, str, int]:
    """Package, room and the room's row of a file."""
    package, room = module.split(".")[:2]
    ranks = {name: rank for rank, row in enumerate(ROOMS[package]) for name in row}
    assert room in ranks, f"{package}/{room} stands in no row of ROOMS"
    return package, room, ranks[room]


def question(module: str) -> str:
    """The question a file belongs to; nothing for others, and for the list of the questions."""
    parts = module.split(".")
    return parts[2] if parts[1] == "questions" and len(parts) > 3 else ""


def is_private(name: str) -> bool:
    return name.startswith("_") and not name.startswith("__")


def test_imports_run_downward():
    upward = []
    for module in FILES:
        package, _, rank = room_and_rank(module)
        for name, _ in imports(tree(module)):
            other = module_of(name)
            if other not in FILES:
                continue
            other_package, _, other_rank = room_and_rank(other)
            neighbour = question(other) not in ("", question(module)) and question(module) not in ("", GATHERER)
            above = other_package == package and other_rank > rank
            if above or neighbour or (package, other_package) == ("physics", "explorer"):
                upward.append(f"{module} imports {name}")
    assert not upward, "\n".join(upward)


def test_packages_from_outside_stay_in_their_rooms():
    strangers = []
    for module in FILES:
        outside = {name.split(".")[0] for name, _ in imports(tree(module))} & OUTSIDERS.keys()
        file = module.rpartition(".")[2]
        if question(module) and {file, f"{question(module)}.{file}"} & DRAWING_FILES:
            outside.discard("streamlit")
        strangers += [f"{module} imports {one}" for one in outside if not module.startswith(OUTSIDERS[one])]
    assert not strangers, "\n".join(strangers)


def test_what_knows_no_screen_reaches_none():
    """property: nor does anything that is imported with it; what a function imports is left out."""
    reaching = []
    for module in FILES:
        seen = {module} if module.startswith(WITHOUT_SCREEN) else set()
        waiting = [*seen]
        while waiting:
            one = waiting.pop()
            functions = (ast.FunctionDef, ast.ClassDef)
            at_once = [part for part in tree(one).body if not isinstance(part, functions)]
            names = {name for part in at_once for name, _ in imports(part)}
            if "streamlit" in {name.split(".")[0] for name in names}:
                reaching.append(f"{module} reaches Streamlit by {one}")
            new = {module_of(name) for name in names} & FILES.keys() - seen
            seen |= new
            waiting += new
    assert not reaching, "\n".join(reaching)


def test_private_names_stay_private():
    taken = []
    for module in FILES:
        given = list(imports(tree(module)))
        found = [name for name, _ in given if any(is_private(part) for part in name.split("."))]
        ours = {local for name, local in given if name.split(".")[0] in ROOMS}
        for node in ast.walk(tree(module)):
            if isinstance(node, ast.Attribute) and is_private(node.attr):
                root = node.value
                while isinstance(root, ast.Attribute):
                    root = root.value
                if isinstance(root, ast.Name) and root.id in ours:
                    found.append(ast.unparse(node))
        taken += [f"{module} reaches for {name}" for name in found]
    assert not taken, "\n".join(taken)


def test_files_stay_short():
    lines = {module: path.read_text(encoding="utf-8").count("\n") for module, path in FILES.items()}
    assert not {module: count for module, count in lines.items() if count > MOST_LINES}


def test_folders_stay_small():
    files = {
        folder: sum(path.is_file() for path in folder.iterdir())
        for folder in {path.parent for path in FILES.values()}
    }
    assert not {folder: count for folder, count in files.items() if count > MOST_FILES}


@pytest.mark.parametrize("package", ROOMS)
def test_tests_mirror_the_rooms(package):
    """property: tests/<package>/ has a folder for each folder of the package, and no other."""
    pair = TOP / package, TOP / "tests" / package
    rooms, tests = ({path.name for path in top.iterdir() if any(path.glob("*.py"))} for top in pair)
    assert tests == rooms
