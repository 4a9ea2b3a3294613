"""What timber holds: the pull that draws a nail, a staple or a screw out of the side of a post.

The withdrawal formulas give the *mean ultimate* load of many tests: about half of all fasteners come out at less.
A load in use is this divided by a safety factor. They hold for a fastener driven square to the grain into the side
of dry wood, pulled along its own axis, and for screws in a lead hole. Driven into the end of a post, or into green
wood that dries later, a smooth nail holds far less.

The specific gravity G is that of oven-dry weight and volume at 12 % moisture. With the oven-dry volume the same wood
has a G about 5 % greater, and the formula for nails a coefficient of 6900 psi instead of 7850 psi. US design rules
take that G and a fifth of that load, 1380 G^(5/2) D L. So ours is about 5 times the US design value for the same wood,
but 7850/1380 = 5.69 times where the same number is put in for both kinds of G.

References
----------
USDA Forest Products Laboratory, Wood Handbook, FPL-GTR-282, chapter 8 (coefficients read at second hand, exponents
and cautions from memory). The same, Technical Note 236, revised 1958, for 6900 psi with the oven-dry volume. National
Design Specification for Wood Construction (NDS), for 1380 psi (which G it takes: from memory).
"""

import numpy as np

from wirerun.mechanics import FloatArray, FloatLike
from wirerun.mechanics.refusals import refuse_unless_positive

# Wood Handbook, chapter 8 (module docstring) [N/mm2]: 7850 and 15 700 psi.
_NAIL = 54.12
_SCREW = 108.25
# Eurocode 5, 8.3.2 [N/mm2 per (kg/m3)^2].
_SMOOTH_NAIL = 20e-6


def nail_withdrawal(specific_gravity: FloatLike, diameter_mm: FloatLike, penetration_mm: FloatLike) -> FloatArray:
    """Mean ultimate withdrawal load of one smooth nail or one leg of a staple, shape of the inputs broadcast [N].

    54.12 G^(5/2) D L. A nail of 3.1 mm driven 50 mm into pine of G = 0.45 comes out at 1140 N; a staple has two legs.
    Driven square to the grain of the side, dry wood. Two published web pages print the exponent as 2: it is 5/2. The
    worked design of the American Wood Council at G = 0.42 shows which; with 2 the load is half as much again.

    Parameters
    ----------
    specific_gravity : any shape, > 0
        Specific gravity of the wood, from oven-dry weight and volume at 12 % moisture. [-]
    diameter_mm : broadcasts, > 0
        Diameter of the nail or of the staple's wire. [mm]
    penetration_mm : broadcasts, > 0
        Length of nail or leg in the wood that holds it. [mm]

    Raises
    ------
    MechanicsError
        If an input is not above 0 and finite; names the first offender.

    References
    ----------
    Wood Handbook, chapter 8. AWC, Solved Example Problems, E2.1a.
    """
    gravity = np.asarray(specific_gravity, dtype=np.float64)
    diameter = np.asarray(diameter_mm, dtype=np.float64)
    depth = np.asarray(penetration_mm, dtype=np.float64)
    refuse_unless_positive("Nail", specific_gravity=gravity, diameter_mm=diameter, penetration_mm=depth)
    return np.asarray(_NAIL * gravity**2.5 * diameter * depth)


def screw_withdrawal(specific_gravity: FloatLike, diameter_mm: FloatLike, thread_in_mm: FloatLike) -> FloatArray:
    """Mean ultimate withdrawal load of one wood screw, shape of the inputs broadcast [N].

    108.25 G^2 D L. A screw of 5 mm with 40 mm of thread in pine of G = 0.45 comes out at 4380 N, if its steel bears
    that. Driven square to the grain of the side into a lead hole, dry wood.

    Parameters
    ----------
    specific_gravity : any shape, > 0
        Specific gravity of the wood, from oven-dry weight and volume at 12 % moisture. [-]
    diameter_mm : broadcasts, > 0
        Diameter of the shank, which is that over the thread. [mm]
    thread_in_mm : broadcasts, > 0
        Length of thread in the wood that holds it. [mm]

    Raises
    ------
    MechanicsError
        If an input is not above 0 and finite; names the first offender.

    References
    ----------
    Wood Handbook, chapter 8.
    """
    gravity = np.asarray(specific_gravity, dtype=np.float64)
    diameter = np.asarray(diameter_mm, dtype=np.float64)
    thread = np.asarray(thread_in_mm, dtype=np.float64)
    refuse_unless_positive("Screw", specific_gravity=gravity, diameter_mm=diameter, thread_in_mm=thread)
    return np.asarray(_SCREW * gravity**2 * diameter * thread)


def smooth_nail_strength(density_kg_m3: FloatLike) -> FloatArray:
    """Characteristic withdrawal strength f_ax,k of smooth nails, shape of the input [N/mm2].

    20e-6 rho^2, to be multiplied by diameter and length in the wood: nineteen nails of twenty hold more. It is for
    short pulls only: Eurocode 5, 8.3.2, does not let smooth nails carry permanent or long-term axial load. A plain
    staple in a hollow is pulled for as long as the wire is tight, so this gives it no design value. Driven square to
    the grain of the side, at least 12 diameters deep (from memory), dry wood.

    Parameters
    ----------
    density_kg_m3 : any shape, > 0
        Characteristic density of the wood: its 5 % quantile, not its mean. [kg/m3]

    Raises
    ------
    MechanicsError
        If a density is not above 0 and finite; names the first offender.

    References
    ----------
    EN 1995-1-1 (Eurocode 5), 8.3.2 (quoted at second hand).
    """
    density = np.asarray(density_kg_m3, dtype=np.float64)
    refuse_unless_positive("Smooth nail", density_kg_m3=density)
    return np.asarray(_SMOOTH_NAIL * density**2)
