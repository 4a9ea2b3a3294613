"""Wind on a canopy or a net: from a speed to newtons a square metre.

References
----------
EN 1991-1-4 (Eurocode 1): 4.3 to 4.5 and table 4.1 for the peak pressure above a basic speed (the ten-minute mean at
10 m over open country); 7.4.1 for a free-standing wall. As the program XC has them in ec1_wind, and its worked wall
agrees (tests/published).

P. J. Richards, M. Robinson, Wind loads on porous structures, J. Wind Eng. Ind. Aerodyn. 83 (1999) 455-465 (abstract):
the load on a porous wall is that of the solid one times (1 - beta), beta the open share of a mesh of round wire that
holds the wind up as much. R. D. Blevins, Applied Fluid Dynamics Handbook, 1984, for nets, as the library fluids has
them in round_edge_open_mesh. A porous sheet in free air is the disc of Rankine and Froude (see `sheet_drag`).
"""

from typing import Final, Literal

import numpy as np

from wirerun.arrays import FloatArray, FloatLike
from wirerun.errors import MechanicsError
from wirerun.mechanics.refusals import require_non_negative, require_positive

#: Density of air [kg/m3]: EN 1991-1-4, 4.5.
AIR_KG_M3: Final = 1.25
#: A free-standing wall away from its ends, EN 1991-1-4 table 7.9, zone D: pressure on both faces over q. [-]
SOLID: Final = 1.2
#: Roughness length and least height of each terrain [m], EN 1991-1-4 table 4.1.
TERRAINS: Final = {"0": (0.003, 1.0), "I": (0.01, 1.0), "II": (0.05, 2.0), "III": (0.3, 5.0), "IV": (1.0, 10.0)}
Mesh = Literal["round bars", "diamond wire", "knotted", "knotless"]
#: Loss of a mesh as a s + b s^2, s the share that its threads cover.
_MESHES: Final[dict[Mesh, tuple[float, float]]] = {
    "round bars": (0.95, 0.2),
    "diamond wire": (0.67, 1.3),
    "knotted": (0.70, 4.9),
    "knotless": (0.72, 2.1),
}


def wind_pressure(speed_m_s: FloatLike, air_kg_m3: FloatLike = AIR_KG_M3) -> FloatArray:
    """Pressure of moving air, shape of the inputs broadcast [Pa].

    >>> wind_pressure(np.array([15.0, 25.0])).round(1).tolist()
    [140.6, 390.6]

    Parameters
    ----------
    speed_m_s : any shape, >= 0
        Its speed. [m/s]
    air_kg_m3 : broadcasts, > 0
        Its density. [kg/m3]

    Returns
    -------
    FloatArray
        rho v^2/2. [Pa]

    Raises
    ------
    MechanicsError
        If a value cannot be; names the first.
    """
    speed, air = np.asarray(speed_m_s, dtype=np.float64), np.asarray(air_kg_m3, dtype=np.float64)
    require_non_negative("Wind", speed_m_s=speed)
    require_positive("Wind", air_kg_m3=air)
    return np.asarray(0.5 * air * speed**2)


def peak_over_mean(height_m: FloatLike, terrain: str) -> FloatArray:
    """Peak pressure at a height over that of the basic speed, c_e, shape of the heights [-].

    c_r^2 (1 + 7 I_v) with c_r = 0.19 (z0/0.05)^0.07 ln(z/z0) and I_v = 1/ln(z/z0), on ground without hills; below its
    least height a terrain has what it has there.

    >>> [round(float(peak_over_mean(2.0, name)), 2) for name in ("I", "II", "III")]
    [1.88, 1.42, 1.28]

    Parameters
    ----------
    height_m : any shape, > 0
        Height above the ground. [m]
    terrain : str
        Of `TERRAINS`.

    Returns
    -------
    FloatArray
        Peak over mean pressure. [-]

    Raises
    ------
    MechanicsError
        If a height is not above 0 and finite, or there is no such terrain.
    """
    height = np.asarray(height_m, dtype=np.float64)
    require_positive("Peak of the wind", height_m=height)
    if terrain not in TERRAINS:
        message = f"Peak of the wind: there is no terrain {terrain!r}, only {', '.join(TERRAINS)}."
        raise MechanicsError(message)
    rough, least = TERRAINS[terrain]
    log = np.log(np.maximum(height, least) / rough)
    mean = 0.19 * (rough / 0.05) ** 0.07 * log
    return np.asarray(mean**2 * (1.0 + 7.0 / log))


def mesh_loss(solid: FloatLike, kind: Mesh, angle_deg: FloatLike = 0.0) -> FloatArray:
    """Pressure lost through an open mesh over that of the air, K, shape of the inputs broadcast [-].

    Meant for open meshes, up to 0.15 covered; beyond that it is stretched.

    >>> round(float(mesh_loss(0.12, "knotless")), 5)
    0.11664

    Parameters
    ----------
    solid : any shape, from 0 to 1
        Share of the area that threads cover. [-]
    kind : str
        What it is made of.
    angle_deg : broadcasts
        Between the wind and the square to it; the loss takes cos^2. [deg]

    Returns
    -------
    FloatArray
        Loss coefficient. [-]

    Raises
    ------
    MechanicsError
        If a share is negative or not finite; names the first.
    """
    covered, angle = np.asarray(solid, dtype=np.float64), np.asarray(angle_deg, dtype=np.float64)
    require_non_negative("Mesh in the wind", solid=covered)
    once, twice = _MESHES[kind]
    return np.asarray((once * covered + twice * covered**2) * np.cos(np.radians(angle)) ** 2)


def sheet_drag(loss: FloatLike) -> FloatArray:
    """Force on a porous sheet in free air over its area and the pressure of the air, shape of the input [-].

    K/(1 + K/4)^2: it lets air through, and turns some of it aside. By momentum, air that comes with V and goes through
    with V (1 - a) leaves with V (1 - 2 a), and the force is 4 a (1 - a); the loss takes it as K (1 - a)^2.

    >>> sheet_drag(mesh_loss(np.array([0.1, 0.3, 0.5]), "knotless")).round(3).tolist()
    [0.089, 0.334, 0.593]

    Parameters
    ----------
    loss : any shape, >= 0
        Of `mesh_loss`. [-]

    Returns
    -------
    FloatArray
        Drag coefficient. [-]

    Raises
    ------
    MechanicsError
        If a loss is negative or not finite; names the first.
    """
    lost = np.asarray(loss, dtype=np.float64)
    require_non_negative("Sheet in the wind", loss=lost)
    return np.asarray(lost / (1.0 + lost / 4.0) ** 2)
