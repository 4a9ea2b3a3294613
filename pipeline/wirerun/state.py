"""The states of a wire in its year."""

from enum import StrEnum
from typing import Final


class State(StrEnum):
    """One state of all wires; the value is its word in tables and files."""

    STRUNG = "strung"
    COLD = "cold"
    HOT = "hot"
    LIFTED = "lifted"
    DROPPED = "dropped"

    @property
    def axis(self) -> int:
        """Place of the state on a state axis."""
        return list(State).index(self)


#: States in which a wire is held by the intermediate posts: what clips and posts bear is asked in these.
IN_CLIPS: Final = (State.STRUNG, State.COLD, State.HOT, State.LIFTED)
