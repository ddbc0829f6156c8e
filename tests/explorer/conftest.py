"""Streamlit's test page looks through every installed package for components, at each run anew; once is enough."""

import functools

from streamlit.components.v2 import manifest_scanner

manifest_scanner.scan_component_manifests = functools.cache(manifest_scanner.scan_component_manifests)
