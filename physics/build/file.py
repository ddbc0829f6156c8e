"""Builds as plain dicts, lists, texts and numbers with a schema version, ready for JSON, and back.

Infinity ("no such limit") is written as the text "off", since JSON has no infinity.
"""

import dataclasses
import math

from physics.build import Build, PowerLevel, Protection
from physics.build.fields import REQUIRED, Accepts, BuildError, Fault, is_number
from physics.build.parts import PARTS, text_faults

SCHEMA_VERSION = 1


def build_to_dict(build: Build) -> dict:
    """A build as plain dicts, lists, texts and numbers, with the schema's version.

    Parameters
    ----------
    build : Build
        The build to write.

    Returns
    -------
    dict
        Ready for JSON.

    Examples
    --------
    >>> from physics.build import example_build
    >>> data = build_to_dict(example_build())
    >>> data['schema'], data['controller']['speed_cap']
    (1, 'off')
    """
    return {"schema": SCHEMA_VERSION, **_plain(dataclasses.asdict(build))}


def _plain(value):
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, float) and math.isinf(value):
        return "off"
    return value


def build_from_dict(data: dict) -> Build:
    """A build from what `build_to_dict` wrote.

    Parameters
    ----------
    data : dict
        Plain dicts, lists, texts and numbers, with "schema". Fields left out take their default.

    Returns
    -------
    Build
        Checked like any other.

    Raises
    ------
    BuildError
        With every fault: an unknown schema or field, a part left out, a value not accepted.

    Examples
    --------
    >>> from physics.build import example_build
    >>> build = example_build()
    >>> build_from_dict(build_to_dict(build)) == build
    True
    """
    if not isinstance(data, dict):
        raise BuildError([Fault("build", type(data).__name__, "a table of parts")])
    if data.get("schema") != SCHEMA_VERSION:
        raise BuildError([Fault("schema", data.get("schema"), f"the version {SCHEMA_VERSION}")])
    faults: list[Fault] = []
    name = data.get("name", "")
    faults += text_faults(name, "name")
    known = {"schema", "name", *PARTS}
    faults += [Fault(key, data[key], "one of " + ", ".join(sorted(known))) for key in data if key not in known]
    parts = {}
    for key, kind in PARTS.items():
        part = _part_from_dict(kind, data.get(key, {}), key + ".", faults)
        if part is not None:
            faults += part.faults(key + ".")
            parts[key] = part
    if faults:
        raise BuildError(faults)
    return Build(**parts, name=name)


def _part_from_dict(kind, data, prefix: str, faults: list[Fault]):
    """One part from its dict; adds faults and returns None where it cannot be made."""
    if not isinstance(data, dict):
        faults.append(Fault(prefix[:-1], data, "a table of fields"))
        return None
    fields = {field.name: field for field in dataclasses.fields(kind)}
    before = len(faults)
    values = {}
    for key, value in data.items():
        if key not in fields:
            faults.append(Fault(prefix + str(key), value, "one of " + ", ".join(fields)))
        elif key == "protection":
            values[key] = _part_from_dict(Protection, value, prefix + "protection.", faults)
        elif key == "power_levels":
            levels = value if isinstance(value, list) else [value]
            where = prefix + "power_levels[{}]."
            made = [_part_from_dict(PowerLevel, item, where.format(i), faults) for i, item in enumerate(levels)]
            values[key] = tuple(made)
        elif key == "torque_table" and isinstance(value, list):
            values[key] = tuple(tuple(pair) if isinstance(pair, list) else pair for pair in value)
        else:
            accepts: Accepts | None = fields[key].metadata.get("accepts")
            if accepts is not None and value == "off":
                value = math.inf
            if accepts is not None and accepts.whole and is_number(value) and value % 1 == 0:
                value = int(value)
            values[key] = value
    for key, field in fields.items():
        missing = field.default is REQUIRED and field.default_factory is REQUIRED
        if missing and key not in values:
            accepts = field.metadata.get("accepts")
            faults.append(Fault(prefix + key, "nothing", accepts.sentence() if accepts else "a text"))
    return kind(**values) if len(faults) == before else None
