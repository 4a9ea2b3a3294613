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
USDA Forest Products Laboratory, Wood Handbook, chapter 8: D. R. Rammer, Fastenings, FPL-GTR-190, 2010. Its coefficients
were read where others quote them: for nails, with the G that belongs to them, Engineers Edge, "Wood Nail Pullout
Withdraw Resistance Force"; for screws kerfworks.org, "Wood Screw Withdrawal Strength Calculator".

The same laboratory, Technical Note 236, revised December 1958, and Research Note FPL-093, January 1965, both "Nail-
Withdrawal Resistance of American Woods": 6900 G^(5/2) D pounds an inch, G of oven-dry weight and oven-dry volume, nails
driven into the side grain. Technical Note 128, June 1953: nails lose their grip as green wood dries.

The Engineering ToolBox, "Nails and Spikes - Withdrawal Force", for 1380 G^(5/2) D, G of oven-dry wood, and for the
fifth. T. G. Hicks, Civil Engineering Formulas, chapter 6: no screws pulled out of end grain.
"""

import numpy as np

from wirerun.arrays import FloatArray, FloatLike
from wirerun.mechanics.refusals import require_positive

# Wood Handbook, chapter 8 (see above) [N/mm2]: 7850 and 15 700 psi.
_NAIL = 54.12
_SCREW = 108.25
# Eurocode 5, 8.3.2 [N/mm2 per (kg/m3)^2].
_SMOOTH_NAIL = 20e-6


def nail_withdrawal(specific_gravity: FloatLike, diameter_mm: FloatLike, penetration_mm: FloatLike) -> FloatArray:
    """Mean ultimate withdrawal load of one smooth nail or one leg of a staple, shape of the inputs broadcast [N].

    54.12 G^(5/2) D L; a staple has two legs. Driven square to the grain of the side, dry wood. A nail of 3.1 mm driven
    50 mm into pine of G = 0.45:

    >>> round(float(nail_withdrawal(0.45, 3.1, 50.0)))
    1140

    Two published web pages print the exponent as 2: it is 5/2. The worked design of the American Wood Council at
    G = 0.42 shows which; with 2 the load is half as much again.

    Parameters
    ----------
    specific_gravity : any shape, > 0
        Specific gravity of the wood, from oven-dry weight and volume at 12 % moisture. [-]
    diameter_mm : broadcasts, > 0
        Diameter of the nail or of the staple's wire. [mm]
    penetration_mm : broadcasts, > 0
        Length of nail or leg in the wood that holds it. [mm]

    Returns
    -------
    FloatArray
        Mean of many tests: divide it by a safety factor. [N]

    Raises
    ------
    MechanicsError
        If an input is not above 0 and finite; names the first offender.

    References
    ----------
    As the module: Wood Handbook, chapter 8. AWC, Solved Example Problems, E2.1a.
    """
    gravity = np.asarray(specific_gravity, dtype=np.float64)
    diameter = np.asarray(diameter_mm, dtype=np.float64)
    depth = np.asarray(penetration_mm, dtype=np.float64)
    require_positive("Nail", specific_gravity=gravity, diameter_mm=diameter, penetration_mm=depth)
    return np.asarray(_NAIL * gravity**2.5 * diameter * depth)


def screw_withdrawal(specific_gravity: FloatLike, diameter_mm: FloatLike, thread_in_mm: FloatLike) -> FloatArray:
    """Mean ultimate withdrawal load of one wood screw, shape of the inputs broadcast [N].

    108.25 G^2 D L. Driven square to the grain of the side into a lead hole, dry wood. A screw of 5 mm with 40 mm of
    thread in pine of G = 0.45, if its steel bears that:

    >>> round(float(screw_withdrawal(0.45, 5.0, 40.0)))
    4384

    Parameters
    ----------
    specific_gravity : any shape, > 0
        Specific gravity of the wood, from oven-dry weight and volume at 12 % moisture. [-]
    diameter_mm : broadcasts, > 0
        Diameter of the shank, which is that over the thread. [mm]
    thread_in_mm : broadcasts, > 0
        Length of thread in the wood that holds it. [mm]

    Returns
    -------
    FloatArray
        Mean of many tests: divide it by a safety factor. [N]

    Raises
    ------
    MechanicsError
        If an input is not above 0 and finite; names the first offender.

    References
    ----------
    As the module: Wood Handbook, chapter 8.
    """
    gravity = np.asarray(specific_gravity, dtype=np.float64)
    diameter = np.asarray(diameter_mm, dtype=np.float64)
    thread = np.asarray(thread_in_mm, dtype=np.float64)
    require_positive("Screw", specific_gravity=gravity, diameter_mm=diameter, thread_in_mm=thread)
    return np.asarray(_SCREW * gravity**2 * diameter * thread)


def smooth_nail_strength(density_kg_m3: FloatLike) -> FloatArray:
    """Characteristic withdrawal strength f_ax,k of smooth nails, shape of the input [N/mm2].

    20e-6 rho^2, to be multiplied by diameter and length in the wood: nineteen nails of twenty hold more. It is for
    short pulls only: Eurocode 5, 8.3.2(1), does not let smooth nails carry permanent or long-term axial load. A plain
    staple in a hollow is pulled for as long as the wire is tight, so this gives it no design value. Driven square to
    the grain of the side, dry wood, at least 12 diameters deep; less of it counts down to 8, below that nothing. Timber
    of strength class C24:

    >>> round(float(smooth_nail_strength(350.0)), 2)
    2.45

    Parameters
    ----------
    density_kg_m3 : any shape, > 0
        Characteristic density of the wood: its 5 % quantile, not its mean. [kg/m3]

    Returns
    -------
    FloatArray
        Pull per area diameter times length. [N/mm2]

    Raises
    ------
    MechanicsError
        If a density is not above 0 and finite; names the first offender.

    References
    ----------
    EN 1995-1-1 (Eurocode 5), 8.3.2: (1) for the kind of load as a worked example of the book Structural Timber Design
    (eurocode.us) quotes it, (6) with equation (8.25) for the strength and (7) for the depth as the timber library
    NODEMaple computes them (EC5_83.mm). The standard itself was not read.
    """
    density = np.asarray(density_kg_m3, dtype=np.float64)
    require_positive("Smooth nail", density_kg_m3=density)
    return np.asarray(_SMOOTH_NAIL * density**2)
