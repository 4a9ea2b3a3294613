"""How far off the ground heights of posts may be, and how the errors of neighbours go together."""

from dataclasses import dataclass, replace

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.mechanics.undulation import height_covariance


@dataclass(frozen=True, slots=True, eq=False)
class HeightErrors:
    """One-sigma errors of the ground heights of posts.

    Attributes
    ----------
    shared_m : [post], >= 0
        Error that goes with those of posts near by, as correlated as `correlation_m` says. [m]
    own_m : [post], >= 0
        Error that goes with no other's. [m]
    correlation_m : float
        Distance at which the correlation has fallen to 5 %; 0 for none. [m]
    smoothing_m : float
        Length over which each height is averaged along its row. [m]
    unseen_m : [post], >= 0, optional
        What the ground does at a post and no height shows, such as what a filter smooths away under the vines. The
        other errors lie on top of the ground and hide it, this one is ground itself: no other height tells of it, and a
        bend that is seen is not taken for it. None for none. [m]
    """

    shared_m: FloatArray
    own_m: FloatArray
    correlation_m: float
    smoothing_m: float
    unseen_m: FloatArray | None = None

    def of(self, posts: BoolArray) -> "HeightErrors":
        """Return those of some of the posts."""
        unseen = None if self.unseen_m is None else self.unseen_m[posts]
        return replace(self, shared_m=self.shared_m[posts], own_m=self.own_m[posts], unseen_m=unseen)

    def joined(self, more: "HeightErrors") -> "HeightErrors":
        """Return those of these posts, then of more of them; covariance and smoothing are of both."""
        parts = [np.concatenate((getattr(self, name), getattr(more, name))) for name in ("shared_m", "own_m")]
        unseen = [np.zeros(len(each.own_m)) if each.unseen_m is None else each.unseen_m for each in (self, more)]
        none = self.unseen_m is None and more.unseen_m is None
        return replace(self, shared_m=parts[0], own_m=parts[1], unseen_m=None if none else np.concatenate(unseen))


class ErrorCovariance:
    """Covariances of the errors of heights, by distance."""

    def __init__(self, errors: HeightErrors, xy_m: FloatArray) -> None:
        self._errors, (self._x, self._y) = errors, np.ascontiguousarray(xy_m.T)
        self._variance = float(height_covariance(0.0, 1.0, errors.correlation_m, errors.smoothing_m))

    def between(self, posts: IntArray, others: IntArray) -> FloatArray:
        """Covariance of posts and others, which broadcast [m2]."""
        return self.at(np.hypot(self._x[posts] - self._x[others], self._y[posts] - self._y[others]), posts, others)

    def at(self, distance_m: FloatArray, posts: IntArray, others: IntArray) -> FloatArray:
        """The same where the distances are known."""
        errors = self._errors
        covariance = height_covariance(distance_m, 1.0, errors.correlation_m, errors.smoothing_m)
        covariance /= self._variance
        covariance *= errors.shared_m[posts] * errors.shared_m[others]
        covariance += np.where(posts == others, errors.own_m[posts] ** 2, 0.0)
        return covariance

    def of_sums(self, of: IntArray, share: FloatArray) -> FloatArray:
        """Variance of sums g of the errors of a few heights, g C g; both [sum, height]."""
        cov = self.between(of[:, :, None], of[:, None, :])
        return np.asarray(np.maximum(np.einsum("pi,pij,pj->p", share, cov, share), 0.0))
