"""A round wire: weight, stiffness, and how much of it is in a coil."""

import numpy as np

from wirerun.mechanics import FloatArray, FloatLike
from wirerun.mechanics.refusals import refuse_unless_positive

#: Standard gravity [m/s2], 3rd General Conference on Weights and Measures, 1901.
GRAVITY = 9.80665
#: Density of steel [kg/m3], common practice.
STEEL_DENSITY = 7850.0
#: Young's modulus of drawn steel wire [Pa], common practice.
STEEL_MODULUS = 200e9


def _area_m2(diameter_mm: FloatArray) -> FloatArray:
    return np.pi / 4.0 * (diameter_mm / 1000.0) ** 2


def weight_per_m(diameter_mm: FloatLike, density_kg_per_m3: FloatLike = STEEL_DENSITY) -> FloatArray:
    """Weight of a round wire per metre, shape of the inputs broadcast [N/m].

    A 2.5 mm steel wire weighs 0.378 N/m.

    Parameters
    ----------
    diameter_mm : any shape, > 0
        Diameter of the wire. [mm]
    density_kg_per_m3 : broadcasts with the diameter, > 0
        Density. [kg/m3]

    Raises
    ------
    MechanicsError
        If a diameter or density is not above 0 and finite; names the first offender.

    References
    ----------
    w = rho g pi d^2/4 with standard gravity, 9.80665 m/s2.
    """
    diameter = np.asarray(diameter_mm, dtype=np.float64)
    density = np.asarray(density_kg_per_m3, dtype=np.float64)
    refuse_unless_positive("weight of the wire", diameter_mm=diameter, density_kg_per_m3=density)
    return np.asarray(density * GRAVITY * _area_m2(diameter))


def axial_stiffness(diameter_mm: FloatLike, youngs_modulus_pa: FloatLike = STEEL_MODULUS) -> FloatArray:
    """Axial stiffness EA of a round wire, shape of the inputs broadcast [N].

    A 2.5 mm steel wire has 982 kN: it stretches by about 1 mm per metre and kN.

    Parameters
    ----------
    diameter_mm : any shape, > 0
        Diameter of the wire. [mm]
    youngs_modulus_pa : broadcasts with the diameter, > 0
        Young's modulus. [Pa]

    Raises
    ------
    MechanicsError
        If a diameter or modulus is not above 0 and finite; names the first offender.

    References
    ----------
    EA = E pi d^2/4.
    """
    diameter = np.asarray(diameter_mm, dtype=np.float64)
    modulus = np.asarray(youngs_modulus_pa, dtype=np.float64)
    refuse_unless_positive("stiffness of the wire", diameter_mm=diameter, youngs_modulus_pa=modulus)
    return np.asarray(modulus * _area_m2(diameter))


def coil_length(
    coil_kg: FloatLike,
    diameter_mm: FloatLike,
    density_kg_per_m3: FloatLike = STEEL_DENSITY,
) -> FloatArray:
    """Length of round wire in a coil of given mass, shape of the inputs broadcast [m].

    Parameters
    ----------
    coil_kg : any shape, > 0
        Mass of the wire in the coil. [kg]
    diameter_mm : broadcasts with the mass, > 0
        Diameter of the wire. [mm]
    density_kg_per_m3 : broadcasts with the mass, > 0
        Density. [kg/m3]

    Raises
    ------
    MechanicsError
        If an input is not above 0 and finite; names the first offender.

    References
    ----------
    The Press, 18 April 1980: 25 kg of 2.5 mm is 648 m.
    """
    mass = np.asarray(coil_kg, dtype=np.float64)
    diameter = np.asarray(diameter_mm, dtype=np.float64)
    density = np.asarray(density_kg_per_m3, dtype=np.float64)
    refuse_unless_positive("coil", coil_kg=mass, diameter_mm=diameter, density_kg_per_m3=density)
    return np.asarray(mass / (density * _area_m2(diameter)))
