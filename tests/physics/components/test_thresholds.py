"""Typical thresholds of a pack's protection, chemistry by chemistry."""

import pytest

from physics.components.cell import CHEMISTRY_KEYS, chemistry
from physics.components.thresholds import typical_thresholds

# Under-voltage and over-voltage, V, that protection circuits are offered with; sources in the table's header.
OFFERED = {
    "nmc": ((2.40, 2.50, 2.80, 3.00), (4.25, 4.28, 4.325)),
    "nca": ((2.40, 2.50, 2.80, 3.00), (4.25, 4.28, 4.325)),
    "lfp": ((2.00, 2.30, 2.50), (3.65, 3.70, 3.90)),
}


@pytest.mark.parametrize("key", OFFERED)
def test_thresholds_are_such_as_circuits_are_offered_with(key):
    """published: detection voltages in data sheets and public specifications of protection modules."""
    low, high = OFFERED[key]
    found = typical_thresholds(key)
    assert found.cell_undervoltage in low[1:-1]
    assert found.cell_overvoltage == min(high)


@pytest.mark.parametrize("key", CHEMISTRY_KEYS)
def test_thresholds_leave_room_for_the_whole_charge(key):
    """property: a rested cell, nearly empty or full, opens nothing, nor does a full one within 20 mV."""
    found, cell = typical_thresholds(key), chemistry(key)
    assert found.cell_undervoltage <= max(cell.voltage_minimum, cell.open_circuit_voltage[10])
    assert found.cell_overvoltage - 0.02 >= cell.voltage_maximum


def test_iron_phosphate_is_not_held_to_the_others_threshold():
    """published: selectable from 2.0 and from 3.65 V, Seiko Instruments, S-8204B data sheet, Rev. 3.6, table 5."""
    found = typical_thresholds("lfp")
    assert found.cell_undervoltage < typical_thresholds("nmc").cell_undervoltage
    assert found.cell_undervoltage >= 2.0
    assert 3.65 <= found.cell_overvoltage < 4.0


def test_an_unknown_chemistry_is_refused():
    with pytest.raises(ValueError, match="lead"):
        typical_thresholds("lead")
