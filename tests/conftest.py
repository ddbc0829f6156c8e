"""Settings of all tests: a drawn example may take as long as a busy machine needs; the longest files come first.

Two processes take one file after another. What is long, and would else come last, leaves one of them without work.
"""

from hypothesis import settings

settings.register_profile("any machine", deadline=None)
settings.load_profile("any machine")

LONGEST = (
    "test_accessibility.py",
    "test_tools.py",
    "test_keeping.py",
    "test_page_corners.py",
    "test_target_scan.py",
)


def pytest_collection_modifyitems(items):
    """Bring the longest files to the front; all others keep their order."""
    place = {name: number for number, name in enumerate(LONGEST)}
    items.sort(key=lambda item: place.get(item.path.name, len(LONGEST)))
