"""How sure a prediction is, and which unknown matters most."""
