"""Motion, forces, momentum, work, energy and power.

Source of every law: OpenStax, College Physics 2e (CC BY 4.0, openstax.org), chapters named
at each group.
"""

from __future__ import annotations

from solver.laws.book import Law

_CH2 = "OpenStax, College Physics 2e, chapter 2"
_CH4 = "OpenStax, College Physics 2e, chapters 4 and 5"
_CH7 = "OpenStax, College Physics 2e, chapter 7"
_CH8 = "OpenStax, College Physics 2e, chapter 8"
_UNIFORM = "constant acceleration"

_STEADY = frozenset({"accelerated"})
_THROWN_LEVEL = frozenset({"projectile"})

KINEMATICS = (
    Law(
        "velocity after a time",
        "v = u + a*t",
        {"v": "final_speed", "u": "initial_speed", "a": "acceleration", "t": "time"},
        _CH2,
        _UNIFORM,
        unless=_THROWN_LEVEL,
    ),
    Law(
        "distance after a time",
        "s = u*t + a*t**2/2",
        {"s": "distance", "u": "initial_speed", "a": "acceleration", "t": "time"},
        _CH2,
        _UNIFORM,
        unless=_THROWN_LEVEL,
    ),
    Law(
        "velocity after a distance",
        "v**2 = u**2 + 2*a*s",
        {"v": "final_speed", "u": "initial_speed", "a": "acceleration", "s": "distance"},
        _CH2,
        _UNIFORM,
        unless=_THROWN_LEVEL,
    ),
    Law(
        "distance by the mean velocity",
        "s = (u + v)/2*t",
        {"s": "distance", "u": "initial_speed", "v": "final_speed", "t": "time"},
        _CH2,
        _UNIFORM,
        unless=_THROWN_LEVEL,
    ),
    Law(
        "distance before the end",
        "s = v*t - a*t**2/2",
        {"s": "distance", "v": "final_speed", "a": "acceleration", "t": "time"},
        _CH2,
        _UNIFORM,
        unless=_THROWN_LEVEL,
    ),
    Law(
        "stopping distance",
        "u**2 = 2*a*s",
        {"u": "initial_speed", "a": "acceleration", "s": "distance"},
        _CH2,
        "slowing uniformly to rest",
        magnitudes=frozenset({"a"}),
        needs=frozenset({"to-rest"}),
    ),
    Law(
        "level throw",
        "s = v*sqrt(2*h/g)",
        {"s": "distance", "v": "initial_speed", "h": "height"},
        _CH2,
        "thrown horizontally, no air resistance",
        {"g": "g"},
        needs=_THROWN_LEVEL,
    ),
    Law(
        "time to fall",
        "h = g*t**2/2",
        {"h": "height", "t": "time"},
        _CH2,
        "no air resistance",
        {"g": "g"},
        needs=_THROWN_LEVEL,
    ),
)
STEADY_MOTION = Law(
    "steady or average speed",
    "s = v*t",
    {"s": "distance", "v": "speed", "t": "time"},
    _CH2,
    "constant or average velocity",
    unless=_STEADY,
)
NEWTON_2 = Law(
    "Newton's second law",
    "F_net = m*a",
    {"F_net": "net_force", "m": "mass", "a": "acceleration"},
    _CH4,
)
NEWTON = (
    NEWTON_2,
    Law("weight", "w = m*g", {"w": "weight", "m": "mass"}, _CH4, "", {"g": "g"}),
    Law(
        "push against friction",
        "F_net = F - f",
        {"F_net": "net_force", "F": "force", "f": "friction"},
        _CH4,
        "push and friction along one line",
    ),
    Law(
        "only one force",
        "F_net = F",
        {"F_net": "net_force", "F": "force"},
        _CH4,
        "no other force along the motion",
        unless=frozenset({"friction-present", "vertical-force", "constant-speed"}),
        cost=0.1,
    ),
    Law(
        "push equals friction",
        "F = f",
        {"F": "force", "f": "friction"},
        _CH4,
        "constant velocity",
        needs=frozenset({"constant-speed"}),
        unless=frozenset({"incline", "vertical-force"}),
        cost=0.5,
    ),
    Law(
        "friction alone",
        "F_net = f",
        {"F_net": "net_force", "f": "friction"},
        _CH4,
        "no other force along the motion",
        needs=frozenset({"friction-alone"}),
        cost=0.5,
    ),
    Law(
        "friction",
        "f = mu*N",
        {"f": "friction", "mu": "friction_coefficient", "N": "normal_force"},
        _CH4,
    ),
    Law(
        "normal force on level ground",
        "N = m*g",
        {"N": "normal_force", "m": "mass"},
        _CH4,
        "level ground, horizontal forces",
        {"g": "g"},
        unless=frozenset({"incline"}),
        needs=frozenset({"level-friction"}),
    ),
    Law(
        "lifting force",
        "F_net = T - w",
        {"F_net": "net_force", "T": "tension", "w": "weight"},
        _CH4,
        "up is positive",
        needs=frozenset({"vertical-force"}),
    ),
    Law(
        "floor that lifts",
        "F_net = N - w",
        {"F_net": "net_force", "N": "normal_force", "w": "weight"},
        _CH4,
        "up is positive",
        needs=frozenset({"vertical-force"}),
    ),
)
INCLINE = (
    Law(
        "weight along a slope",
        "F_par = m*g*sin(theta)",
        {"F_par": "slope_force", "m": "mass", "theta": "angle"},
        _CH4,
        "",
        {"g": "g"},
        needs=frozenset({"incline"}),
    ),
    Law(
        "normal force on a slope",
        "N = m*g*cos(theta)",
        {"N": "normal_force", "m": "mass", "theta": "angle"},
        _CH4,
        "",
        {"g": "g"},
        needs=frozenset({"incline"}),
    ),
    Law(
        "sliding on a smooth slope",
        "a = g*sin(theta)",
        {"a": "acceleration", "theta": "angle"},
        _CH4,
        "no friction",
        {"g": "g"},
        needs=frozenset({"incline", "smooth"}),
    ),
    Law(
        "sliding on a rough slope",
        "a = g*sin(theta) - mu*g*cos(theta)",
        {"a": "acceleration", "theta": "angle", "mu": "friction_coefficient"},
        _CH4,
        "sliding down",
        {"g": "g"},
        needs=frozenset({"incline"}),
    ),
    Law(
        "steady pull up a slope",
        "F = m*g*sin(theta) + f",
        {"F": "force", "m": "mass", "theta": "angle", "f": "friction"},
        _CH4,
        "constant velocity up the slope",
        {"g": "g"},
        needs=frozenset({"incline", "constant-speed"}),
    ),
    Law(
        "at rest on a slope",
        "f = m*g*sin(theta)",
        {"f": "friction", "m": "mass", "theta": "angle"},
        _CH4,
        "at rest",
        {"g": "g"},
        needs=frozenset({"incline", "at-rest"}),
    ),
)
ENERGY = (
    Law(
        "kinetic energy",
        "E_k = m*v**2/2",
        {"E_k": "kinetic_energy", "m": "mass", "v": "speed"},
        _CH7,
        "speeds far below that of light",
    ),
    Law(
        "speed at that moment",
        "v = v_f",
        {"v": "speed", "v_f": "final_speed"},
        _CH2,
        "the motion up to the moment asked about",
        needs=frozenset({"at-the-end"}),
        cost=0.2,
    ),
    Law(
        "gravitational potential energy",
        "E_p = m*g*h",
        {"E_p": "potential_energy", "m": "mass", "h": "height"},
        _CH7,
        "near the ground",
        {"g": "g"},
    ),
    Law(
        "work of a force along the motion",
        "W = F*s",
        {"W": "work", "F": "force", "s": "distance"},
        _CH7,
        "force along the motion",
        unless=frozenset({"force-at-angle", "work-by-friction", "net-work"}),
    ),
    Law(
        "work of a slanting force",
        "W = F*s*cos(theta)",
        {"W": "work", "F": "force", "s": "distance", "theta": "angle"},
        _CH7,
        needs=frozenset({"force-at-angle"}),
    ),
    Law(
        "work of friction",
        "W = -f*s",
        {"W": "work", "f": "friction", "s": "distance"},
        _CH7,
        "friction opposes the motion",
        needs=frozenset({"work-by-friction"}),
    ),
    Law(
        "net work",
        "W = F_net*s",
        {"W": "work", "F_net": "net_force", "s": "distance"},
        _CH7,
        "net force along the motion",
        needs=frozenset({"net-work"}),
    ),
    Law(
        "work-energy theorem",
        "W = m*v**2/2 - m*u**2/2",
        {"W": "net_work", "m": "mass", "v": "final_speed", "u": "initial_speed"},
        _CH7,
        "net work",
    ),
    Law(
        "stopping or driving work",
        "W = F_net*s",
        {"W": "net_work", "F_net": "net_force", "s": "distance"},
        _CH7,
        "net force along the motion",
    ),
    Law(
        "energy of a spring",
        "E = k_s*x**2/2",
        {"E": "energy", "k_s": "stiffness", "x": "extension"},
        _CH7,
    ),
    Law("spring force", "F = k_s*x", {"F": "force", "k_s": "stiffness", "x": "extension"}, _CH7),
    Law(
        "speed after a frictionless drop",
        "v**2 = u**2 + 2*g*h",
        {"v": "final_speed", "u": "initial_speed", "h": "height"},
        _CH7,
        "no friction",
        {"g": "g"},
        needs=frozenset({"energy-drop"}),
    ),
)
POWER = (
    Law("power", "P = W/t", {"P": "power", "W": "work", "t": "time"}, _CH7),
    Law(
        "power as energy per time",
        "P = E/t",
        {"P": "power", "E": "energy", "t": "time"},
        _CH7,
        cost=1.1,
    ),
    Law(
        "power of a steady force",
        "P = F*v",
        {"P": "power", "F": "drive_force", "v": "speed"},
        _CH7,
        "constant velocity",
    ),
    Law(
        "work of lifting",
        "W = m*g*h",
        {"W": "work", "m": "mass", "h": "height"},
        _CH7,
        "lifted at steady speed",
        {"g": "g"},
        needs=frozenset({"lifting"}),
        unless=frozenset({"speeding-up-a-rise"}),
    ),
    Law(
        "work of lifting and speeding up",
        "W = m*g*h + m*v**2/2 - m*u**2/2",
        {"W": "work", "m": "mass", "h": "height", "v": "final_speed", "u": "initial_speed"},
        _CH7,
        "no friction",
        {"g": "g"},
        needs=frozenset({"speeding-up-a-rise"}),
    ),
    Law(
        "work of lifting a weight",
        "W = w*h",
        {"W": "work", "w": "weight", "h": "height"},
        _CH7,
        "lifted at steady speed",
        needs=frozenset({"lifting"}),
    ),
    Law(
        "useful power",
        "P_out = eta*P_in",
        {"P_out": "useful_power", "eta": "efficiency", "P_in": "power"},
        _CH7,
        needs=frozenset({"efficiency"}),
    ),
    Law(
        "useful work",
        "W_out = P_out*t",
        {"W_out": "useful_work", "P_out": "useful_power", "t": "time"},
        _CH7,
        needs=frozenset({"efficiency"}),
    ),
)
MOMENTUM = (
    Law("momentum", "p = m*v", {"p": "momentum", "m": "mass", "v": "speed"}, _CH8),
    Law("impulse", "J = F*t", {"J": "impulse", "F": "impulse_force", "t": "time"}, _CH8),
    Law(
        "impulse and change of momentum",
        "J = m*v - m*u",
        {"J": "impulse", "m": "mass", "v": "final_speed", "u": "initial_speed"},
        _CH8,
        "along one line",
    ),
    Law(
        "change of momentum",
        "dp = m*v - m*u",
        {"dp": "momentum_change", "m": "mass", "v": "final_speed", "u": "initial_speed"},
        _CH8,
        "along one line",
    ),
)
ALL = (*KINEMATICS, STEADY_MOTION, *NEWTON, *INCLINE, *ENERGY, *POWER, *MOMENTUM)
