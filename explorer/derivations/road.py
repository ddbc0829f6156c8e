"""What resists on the road, what is left to gain speed with, and what lifts the front wheel or spins the rear."""

from __future__ import annotations

import math
from dataclasses import replace

from explorer.derivations.derivation import Instant, Step, put
from explorer.derivations.sources import DRAG, FORCE_BALANCE, LOAD_TRANSFER, ROLLING
from explorer.format import UnitFormatter
from physics.components.air import STANDARD_GRAVITY as GRAVITY
from physics.components.load_transfer import front_wheel_load


def resistances(now: Instant, fmt: UnitFormatter) -> list[Step]:
    """What resists on the road: drag, rolling resistance, slope."""
    bike, day = now.build.bike, now.build.conditions
    at = fmt("speed", now.speed)
    wind = f" − {put(-day.headwind)}" if day.headwind < 0 else f" + {put(day.headwind)}"
    along = f"({put(now.speed)}{wind})" if day.headwind else put(now.speed)
    sign = "" if now.speed + day.headwind >= 0 else "−"
    steps = [
        Step(
            f"Air drag at {at}",
            r"F_d = \tfrac{1}{2}\,\rho\,C_dA\,(v + w)\,|v + w|",
            f"{sign}0.5 × {put(now.density)} × {put(bike.drag_area)} × {along}²",
            now.drag_force,
            "N",
            f"ρ density of the air, kg/m³; CdA drag area, m²; v speed, m/s ({at}); w headwind, m/s",
            DRAG,
            "force",
        ),
        Step(
            f"Rolling resistance at {at}",
            r"F_r = m\,g\,\cos\alpha\,(c_0 + c_2 v^2)",
            f"{put(now.mass)} × {put(GRAVITY)} × {put(math.cos(day.slope), 5)} × "
            f"({put(bike.rolling_coefficient)} + {put(bike.rolling_coefficient_speed_squared)} × "
            f"{put(now.speed)}²)",
            now.rolling_force,
            "N",
            f"m mass of bike and rider, kg ({fmt('mass', now.mass)}); g gravity, m/s²; α slope; "
            "c₀, c₂ rolling coefficients",
            ROLLING,
            "force",
        ),
    ]
    if day.slope:
        steps.append(
            Step(
                "Weight along the slope",
                r"F_s = m\,g\,\sin\alpha",
                f"{put(now.mass)} × {put(GRAVITY)} × {put(math.sin(day.slope))}",
                now.slope_force,
                "N",
                "α angle of the road, uphill positive",
                FORCE_BALANCE,
                "force",
            )
        )
    return steps


def left_over(now: Instant, fmt: UnitFormatter) -> list[Step]:
    """Acceleration: what the drive has left over the resistances; nothing where the bike stands still."""
    if now.speed <= 0 and now.acceleration == 0:  # it neither gains speed nor rolls back
        return []
    forces = [now.drive_force, now.drag_force, now.rolling_force, *([now.slope_force] if now.slope_force else [])]
    return [
        Step(
            "What is left to accelerate with",
            r"a = \frac{F - F_d - F_r - F_s}{m_e}",
            f"({' − '.join(put(force, 5) for force in forces)}) / {put(now.inertia)}",
            now.acceleration,
            "m/s²",
            "F drive at the road, N; mₑ mass with wheels and rotor, kg. At zero the speed is settled; here the "
            f"bike does {fmt('speed', now.speed)}",
            FORCE_BALANCE,
            places=2,
        )
    ]


def front_wheel_lift(now: Instant, fmt: UnitFormatter) -> list[Step]:
    """Drive that takes all load off the front wheel."""
    bike, slope, stance = now.build.bike, now.build.conditions.slope, now.stance
    along, height = (float(values[0]) for values in stance.tilted(0.0))
    spin = float(stance.spin[0])
    moment = now.mass * GRAVITY * (along * math.cos(slope) - height * math.sin(slope))
    gain = (moment - now.drag_force * bike.drag_height) / (now.mass * height + spin)
    return [
        Step(
            "Height of the centre of gravity with the fork topped out",
            r"h' = h + \frac{b\,s}{w}",
            f"{put(bike.centre_of_gravity_height)} + {put(bike.centre_of_gravity_to_rear_axle)} × "
            f"{put(bike.fork_sag)} / {put(bike.wheelbase)}",
            height,
            "m",
            "b, h centre of gravity ahead of the rear axle and above the road, m; s sag of the fork, m; "
            f"w wheelbase, m. It also moves back, to b' = {put(along)} m",
            LOAD_TRANSFER,
        ),
        Step(
            "Acceleration that lifts the front wheel",
            r"a = \frac{m\,g\,(b'\cos\alpha - h'\sin\alpha) - F_d\,h_d}{m\,h' + J}",
            f"({put(now.mass)} × {put(GRAVITY)} × ({put(along)} × {put(math.cos(slope), 5)} − {put(height)} × "
            f"{put(math.sin(slope))}) − {put(now.drag_force)} × {put(bike.drag_height)}) / ({put(now.mass)} × "
            f"{put(height)} + {put(spin)})",
            gain,
            "m/s²",
            "F_d drag, N, at the height h_d, m; J angular momentum of wheels and rotor per m/s, kg m: spinning "
            "them up pitches the bike back and helps lift the front",
            LOAD_TRANSFER,
            places=2,
        ),
        Step(
            "Drive force that lifts the front wheel",
            r"F_{lift} = m_e\,a + F_d + F_r + F_s",
            f"{put(now.inertia)} × {put(gain)} + {put(now.drag_force)} + {put(now.rolling_force)} + "
            f"{put(now.slope_force)}",
            now.inertia * gain + now.drag_force + now.rolling_force + now.slope_force,
            "N",
            "mₑ mass with wheels and rotor, kg; F_r rolling resistance, F_s weight along the slope, N",
            LOAD_TRANSFER,
            "force",
        ),
    ]


def rear_grip(now: Instant, fmt: UnitFormatter) -> list[Step]:
    """Largest drive the rear tyre carries, with the load that is on it."""
    bike, slope = now.build.bike, now.build.conditions.slope
    weight, spun = now.mass * GRAVITY * math.cos(slope), float(now.stance.spun_by_drive[0])
    standing = replace(now.stance, fork_sag=0.0)
    load = front_wheel_load(standing, now.drive_force, now.drag_force, now.rolling_force)
    front, gain = max(float(load[0]), 0.0), max(now.acceleration, 0.0)
    return [
        Step(
            "Maximum drive force the rear tyre holds",
            r"F_{slip} = \mu\,(m\,g\cos\alpha - N_f) + m_s\,a",
            f"{put(bike.grip)} × ({put(weight)} − {put(front, 5)}) + {put(spun)} × {put(gain)}",
            bike.grip * (weight - front) + spun * gain,
            "N",
            "µ grip of the rear tyre; m g cos α weight on the road, N; N_f load left on the front wheel, "
            "N; m_s a what spins up rear wheel and rotor and never reaches the road, N",
            LOAD_TRANSFER,
            "force",
        )
    ]
