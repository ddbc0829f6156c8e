"""Cautions that several parts of the page give: what can hurt someone, and whose word counts."""

RIDE = (
    "A prediction is no permission. Test at a closed place, in riding gear, with brakes, chain and tyres checked "
    "and rated for the speed. Whether a modified bike may be ridden on a public road is for local law to say; the "
    "makers' instructions come before anything shown here."
)
PROTECTION = (
    "Enter what the maker of the pack's protection states. The page never asks you to set the protection itself."
)
CUT_OUT = (
    "The protection is there so that the pack does not catch fire. Plan so that it never cuts out; never bypass, "
    "reset or widen it. A cut-out takes the drive away at once, in a bend too."
)
HOT = (
    "Motor, controller and pack burn skin long before they reach their limits, and stay hot after a ride. Smell, "
    "smoke or a swollen pack: stop, get away, and leave it to trained people."
)
COLD_CHARGE = (
    "Charging cold lithium cells harms them for good and can make them unsafe; regenerative braking is charging. "
    "Keep to the cell maker's temperatures and currents. Without regen the brakes alone must stop the bike."
)
