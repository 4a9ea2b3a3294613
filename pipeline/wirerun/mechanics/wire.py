"""A round wire: weight, stiffness, expansion, and how much of it is in a coil."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Self

import numpy as np

from wirerun.arrays import FloatArray, FloatLike, IntArray
from wirerun.mechanics.refusals import require_finite, require_positive
from wirerun.mechanics.row_index import RowIndex

#: Standard gravity [m/s2], 3rd General Conference on Weights and Measures, 1901.
GRAVITY = 9.80665
#: Density of steel [kg/m3]: EN 1991-1-1 table A.4 and common practice, in the table of EN 1993-1-1 material properties
#: of Eurocode Applied.
STEEL_DENSITY = 7850.0
#: Young's modulus of drawn steel wire [Pa], common practice.
STEEL_MODULUS = 200e9
#: Thermal expansion of steel [1/K]: EN 1993-1-1, 3.2.6, in the same table.
STEEL_EXPANSION = 12e-6


@dataclass(frozen=True, slots=True, eq=False)
class Wire:
    """What mechanics must know of a wire, checked once; each value one number, or one for each row or span.

    Steel wire of 2.5 mm:

    >>> wire = Wire.from_diameter(2.5)
    >>> round(float(wire.weight_n_per_m), 4), round(float(wire.axial_stiffness_n))
    (0.3779, 981748)

    Attributes
    ----------
    weight_n_per_m : FloatArray
        Weight per metre of unstretched wire, > 0: a weightless wire has no catenary. [N/m]
    axial_stiffness_n : FloatArray
        EA, > 0: the pull that would double the length. [N]
    expansion_per_k : FloatArray
        Coefficient of thermal expansion; steel's by default. [1/K]

    Raises
    ------
    MechanicsError
        If a weight or stiffness is not above 0 and finite, or an expansion not finite; names the first offender.
    """

    weight_n_per_m: FloatLike
    axial_stiffness_n: FloatLike
    expansion_per_k: FloatLike = STEEL_EXPANSION

    def __post_init__(self) -> None:
        """Check, and keep as arrays that cannot be written to."""
        arrays = {name: np.array(value, dtype=np.float64) for name, value in self._values().items()}
        require_finite("Wire", expansion_per_k=arrays["expansion_per_k"])
        require_positive("Wire", weight_n_per_m=arrays["weight_n_per_m"], axial_stiffness_n=arrays["axial_stiffness_n"])
        for name, array in arrays.items():
            array.setflags(write=False)
            object.__setattr__(self, name, array)

    @classmethod
    def from_diameter(
        cls,
        diameter_mm: FloatLike,
        density_kg_per_m3: FloatLike = STEEL_DENSITY,
        youngs_modulus_pa: FloatLike = STEEL_MODULUS,
        expansion_per_k: FloatLike = STEEL_EXPANSION,
    ) -> Self:
        """Round wire of given diameter; steel unless told otherwise.

        Parameters
        ----------
        diameter_mm : any shape, > 0
            Diameter of the wire. [mm]
        density_kg_per_m3, youngs_modulus_pa : broadcast with the diameter, > 0
            Density [kg/m3] and Young's modulus [Pa].
        expansion_per_k : any shape
            Coefficient of thermal expansion. [1/K]

        Returns
        -------
        Wire
            With the weight of `weight_per_m` and the stiffness of `axial_stiffness`.

        Raises
        ------
        MechanicsError
            If a value cannot be; names the first offender.
        """
        weight = weight_per_m(diameter_mm, density_kg_per_m3)
        return cls(weight, axial_stiffness(diameter_mm, youngs_modulus_pa), expansion_per_k)

    @classmethod
    def each(cls, wires: Iterable["Wire"]) -> Self:
        """Several wires in one, each of one number, shape (n_wires,)."""
        some = list(wires)
        return cls(*(np.array([getattr(wire, name) for wire in some]) for name in cls.__slots__))

    def per_row(self, rows: RowIndex) -> "Wire":
        """Wire with one of each value for each row.

        Parameters
        ----------
        rows : RowIndex
            Where the rows lie.

        Returns
        -------
        Wire
            Of shape (n_rows,).

        Raises
        ------
        MechanicsError
            If a value is neither one number nor one per row.
        """
        return self._with({name: rows.per_row(name, value) for name, value in self._values().items()})

    def of(self, row: IntArray) -> "Wire":
        """Wire of each span or support, from one per row.

        Parameters
        ----------
        row : any shape
            Row of each, counted from 0.

        Returns
        -------
        Wire
            Of the shape of ``row``.
        """
        return self._with({name: np.asarray(value)[row] for name, value in self._values().items()})

    def _values(self) -> dict[str, FloatLike]:
        return {name: getattr(self, name) for name in self.__slots__}

    def _with(self, values: dict[str, FloatArray]) -> "Wire":
        """Wire of values that come from this one and have been checked with it."""
        wire = object.__new__(Wire)
        for name, value in values.items():
            value.setflags(write=False)
            object.__setattr__(wire, name, value)
        return wire


def _area_m2(diameter_mm: FloatArray) -> FloatArray:
    return np.pi / 4.0 * (diameter_mm / 1000.0) ** 2


def weight_per_m(diameter_mm: FloatLike, density_kg_per_m3: FloatLike = STEEL_DENSITY) -> FloatArray:
    """Weight of a round wire per metre, shape of the inputs broadcast [N/m].

    >>> round(float(weight_per_m(2.5)), 4)  # steel wire of 2.5 mm
    0.3779

    Parameters
    ----------
    diameter_mm : any shape, > 0
        Diameter of the wire. [mm]
    density_kg_per_m3 : broadcasts with the diameter, > 0
        Density. [kg/m3]

    Returns
    -------
    FloatArray
        w = rho g pi d^2/4 with standard gravity, 9.80665 m/s2. [N/m]

    Raises
    ------
    MechanicsError
        If a diameter or density is not above 0 and finite; names the first offender.
    """
    diameter = np.asarray(diameter_mm, dtype=np.float64)
    density = np.asarray(density_kg_per_m3, dtype=np.float64)
    require_positive("weight of the wire", diameter_mm=diameter, density_kg_per_m3=density)
    return np.asarray(density * GRAVITY * _area_m2(diameter))


def axial_stiffness(diameter_mm: FloatLike, youngs_modulus_pa: FloatLike = STEEL_MODULUS) -> FloatArray:
    """Axial stiffness EA of a round wire, shape of the inputs broadcast [N].

    Steel wire of 2.5 mm stretches by about 1 mm per metre and kN:

    >>> round(float(axial_stiffness(2.5)))
    981748

    Parameters
    ----------
    diameter_mm : any shape, > 0
        Diameter of the wire. [mm]
    youngs_modulus_pa : broadcasts with the diameter, > 0
        Young's modulus. [Pa]

    Returns
    -------
    FloatArray
        EA = E pi d^2/4. [N]

    Raises
    ------
    MechanicsError
        If a diameter or modulus is not above 0 and finite; names the first offender.
    """
    diameter = np.asarray(diameter_mm, dtype=np.float64)
    modulus = np.asarray(youngs_modulus_pa, dtype=np.float64)
    require_positive("stiffness of the wire", diameter_mm=diameter, youngs_modulus_pa=modulus)
    return np.asarray(modulus * _area_m2(diameter))


def coil_length(
    coil_kg: FloatLike,
    diameter_mm: FloatLike,
    density_kg_per_m3: FloatLike = STEEL_DENSITY,
) -> FloatArray:
    """Length of round wire in a coil of given mass, shape of the inputs broadcast [m].

    A maker's coil of 25 kg of 2.5 mm is printed as 648 m:

    >>> round(float(coil_length(25.0, 2.5)), 1)
    648.8

    Parameters
    ----------
    coil_kg : any shape, > 0
        Mass of the wire in the coil. [kg]
    diameter_mm : broadcasts with the mass, > 0
        Diameter of the wire. [mm]
    density_kg_per_m3 : broadcasts with the mass, > 0
        Density. [kg/m3]

    Returns
    -------
    FloatArray
        Mass over density and cross-section. [m]

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
    require_positive("coil", coil_kg=mass, diameter_mm=diameter, density_kg_per_m3=density)
    return np.asarray(mass / (density * _area_m2(diameter)))
