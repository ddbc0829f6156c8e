"""Inputs of the section "Do the parts go together?": what the makers of fuse, cable and connector allow."""

from __future__ import annotations

from explorer.inputs.spec import InputSpec

PART_RATINGS = "Ratings of fuse, cable and connector"


def part_rating_inputs() -> list[InputSpec]:
    """Every input of the section."""

    def one(key: str, label: str, switch: str, hint: str) -> InputSpec:
        numbers = (10, 1000, 5, None, "A")
        return InputSpec(key, label, PART_RATINGS, *numbers, kind="limit", switch=switch, start=200, help=hint)

    return [
        one("fuse_current", "Fuse", "I know the main fuse's rating",
            "Printed on it. Its data sheet says how long it carries more, and up to what DC voltage it can "
            "break a circuit."),
        one("cable_current", "Cable", "I know the cable's rating",
            "Continuous, from its maker's data sheet; bundled, warm or covered it carries less."),
        one("connector_current", "Connector", "I know the connector's rating",
            "Continuous, with the cable it is crimped to; the weakest one between pack and controller."),
    ]  # fmt: skip
