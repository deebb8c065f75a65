r"""
What is known of today: which of the month's days it is like.

By the month alone every rank of a layer is as likely as any other. What was heard makes
some likelier. Here that is a number of days, each as likely as any other, of which each
says what to expect of the ranks of the E layer, the F2 layer and sporadic E, as
deviates of a normal law, and how far they may still stray from that.
"""

from __future__ import annotations

import numpy as np

from advisor.propagation.normal import normal_deviate
from geo.arrays import Bools, Floats, Indices
from geo.records import ArrayRecord

LEAST_SPREAD = 1e-6
"""A rank is as good as known from here; stands for 0."""

_CERTAIN = 1e-12
_BLOCK = 128
"""So many cells are worked on at a time."""


class Today(ArrayRecord):
    """
    Days like today in C cells.

    Attributes
    ----------
    row : numpy.ndarray of int
        Shape (C,): place of each cell in the following; -1 where nothing is known.
    mean : numpy.ndarray
        Shape (3, R, N): deviate expected of E, F2 and sporadic E on each of N days.
    spread : numpy.ndarray
        Shape (3, R): deviation that remains, above 0 and at most 1.
    """

    row: Indices
    mean: Floats
    spread: Floats

    def shares(
        self,
        busy: Indices | Bools,
        cut: tuple[Floats, Floats, Floats],
        counts: Bools,
        pieces: tuple[Indices, ...],
        month: Floats,
    ) -> Floats:
        r"""
        Share of days like today in every piece that the ranks are cut into.

        Parameters
        ----------
        busy : numpy.ndarray of int or bool
            Which cells, B of them.
        cut : tuple of numpy.ndarray
            Shapes (B, U), (B, V) and (B, W): lengths of the pieces of each rank, of E
            and F2 from the weakest day on, of sporadic E from the strongest.
        counts : numpy.ndarray of bool
            Shape (B, W): whether a piece of sporadic E is one by itself; the others
            are one piece, behind the last.
        pieces : tuple of numpy.ndarray of int
            Shapes (S,): cell, in ascending order, and place on each rank.
        month : numpy.ndarray
            Shape (S,): share of the month's days; stays where nothing is known.

        Returns
        -------
        share : numpy.ndarray
            Shape (S,).

        Notes
        -----
        With :math:`\mu_n` the deviate expected on day :math:`n` and :math:`\sigma` what
        remains, a piece from :math:`a` to :math:`b` of one rank has

        .. math:: \Phi\left(\frac{\Phi^{-1}(b) - \mu_n}{\sigma}\right)
                  - \Phi\left(\frac{\Phi^{-1}(a) - \mu_n}{\sigma}\right)

        of it. The three are independent of each other on one such day, and so are
        multiplied before the mean over the days is taken.
        """
        row, cell, found = self.row[busy], pieces[0], month.copy()
        known = np.flatnonzero(row >= 0)
        for first in range(0, known.size, _BLOCK):
            some = known[first : first + _BLOCK]
            mine = np.flatnonzero(np.isin(cell, some))
            inside = [self._inside(k, row[some], cut[k][some]) for k in range(3)]
            inside[2] = _joined(inside[2], counts[some])
            here = np.searchsorted(some, cell[mine])
            each = inside[0][here, pieces[1][mine]]
            for lengths, place in zip(inside[1:], pieces[2:], strict=True):
                each = each * lengths[here, place[mine]]
            found[mine] = each.mean(axis=-1)
        return found

    def _inside(self, layer: int, row: Indices, lengths: Floats) -> Floats:
        """Share of the pieces of one rank on every day, (B, pieces, N)."""
        # Drawing days has loaded it, and here it is worth its while.
        from scipy.special import ndtr

        # Sporadic E is cut from its strongest day on.
        sign = -1.0 if layer == 2 else 1.0
        edges = np.clip(np.cumsum(lengths, axis=1), _CERTAIN, 1.0 - _CERTAIN)
        off = normal_deviate(edges)[..., None] - sign * self.mean[layer, row, None]
        below = np.asarray(ndtr(off / self.spread[layer, row, None, None]))
        below[:, -1] = 1.0
        below[:, 1:] -= below[:, :-1].copy()
        return below


def _joined(shares: Floats, counts: Bools) -> Floats:
    """Join the pieces of sporadic E that do not count, behind the last."""
    kept = np.where(counts[..., None], shares, 0.0)
    return np.concatenate([kept, 1.0 - kept.sum(axis=1, keepdims=True)], axis=1)
