"""Headroom: the file that `streamlit run explorer/app.py` starts. What the page shows is in `whole.py`."""

import os
import sys

if (top := os.path.dirname(os.path.dirname(os.path.abspath(__file__)))) not in sys.path:  # runs at every change
    sys.path.insert(0, top)

if __name__ == "__main__":  # at every visit and change
    from explorer.whole import draw

    draw()
elif __name__ == "app":  # once: Streamlit serves what it finds here; processes of `page.pool` pass by
    import streamlit as st

    from explorer.frame.server import prepare

    app = st.App(__file__, lifespan=prepare)
