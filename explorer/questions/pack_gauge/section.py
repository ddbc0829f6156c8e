"""The pack gauge: where the pack is, below what regen may charge it, above what the target is within reach."""

from __future__ import annotations

from typing import Any

from explorer.frame import drag
from explorer.page.page import Page
from explorer.questions.pack_gauge import chart, marks

TITLE = "Pack gauge"


def draw(page: Page) -> None:
    """The bar with its marks; it follows a held slider."""
    drag.chart(picture, page)


def picture(page: Page) -> dict[str, Any]:
    """The bar, empty to full, and a strip for each mark."""
    rows = marks.of(page)
    return {
        "figure": chart.figure(page, rows),
        "key": "chart_pack_gauge",
        "height": chart.height(len(rows)),
        "alt": marks.sentence(page, rows),
    }
