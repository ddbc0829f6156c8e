"""What all tests of the page share.

Streamlit's test page looks through every installed package for components, at each run anew; once is enough.
Questions are tested whichever moment they belong to: here all stand in one, except where the moments are tested.
"""

import functools

import pytest
from streamlit.components.v2 import manifest_scanner

from explorer.questions import registry
from tests.explorer.pages import EVERYTHING

manifest_scanner.scan_component_manifests = functools.cache(manifest_scanner.scan_component_manifests)


_MOMENTS = registry.MOMENTS


@pytest.fixture(scope="module", autouse=True)
def all_in_one_moment():
    """One moment for all questions, before any page of a module is opened."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(registry, "MOMENTS", EVERYTHING)
        yield


@pytest.fixture(autouse=True)
def own_moments(monkeypatch, request):
    """The moments as they are, for the tests about them."""
    if request.node.get_closest_marker("own_moments"):
        monkeypatch.setattr(registry, "MOMENTS", _MOMENTS)
