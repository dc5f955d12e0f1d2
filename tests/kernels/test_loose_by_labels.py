"""Loose pieces against labelling the plate afresh after every motion (scipy.ndimage)."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.ndimage

from knifecam.sweep.columns import Grid, plate_grid
from knifecam.sweep.loose_pieces import loose_pieces


def grid_of(emptied, changed=None):
    alive = emptied < 0
    last = emptied if changed is None else np.where(alive, changed, emptied)
    return Grid(
        x0=0.0, y0=0.0, cell=1.0, top=np.where(alive, 0.5, -0.5),
        bottom=np.full(emptied.shape, -0.5), changed=last.astype(np.int32),
    )  # fmt: skip


def pieces_by_labels(emptied, held, last):
    """(motion, cells, lasts, mask) of every set that is not held and whose columns were just before."""
    found = []
    for motion in range(-1, last + 1):
        alive = (emptied < 0) | (emptied > motion)
        labels, count = scipy.ndimage.label(alive)
        masks = [labels == k for k in range(1, count + 1)]
        for mask in masks:
            if not held[mask].any() and (motion == -1 or were_held[mask].any()):  # noqa: F821
                found.append((motion, int(mask.sum()), bool((mask & (emptied < 0)).any()), mask))
        were_held = np.zeros(alive.shape, bool)
        for mask in masks:
            were_held |= mask & held[mask].any()
    return found


@pytest.mark.parametrize("seed", range(150))
def test_pieces_are_those_that_labels_show(seed):
    rng = np.random.default_rng(seed)
    shape = tuple(rng.integers(2, 16, 2))
    last = int(rng.integers(0, 12))
    gone = rng.random(shape) < rng.uniform(0.2, 0.9)
    emptied = np.where(gone, rng.integers(0, last + 1, shape), -1)
    held = rng.random(shape) < 0.08
    found = loose_pieces(grid_of(emptied), held)
    wanted = pieces_by_labels(emptied, held, last)
    assert len(found) == len(wanted)
    for piece in found:
        i, j = (int(v) for v in piece.place)
        (match,) = (w for w in wanted if w[0] == piece.motion and w[3][j, i])
        assert (piece.cells, piece.last) == match[1:3]
        assert piece.area == piece.cells


def test_a_ring_cut_free_and_its_slug_cut_away():
    """A slot closed by motion 5 frees a disc; motion 9 eats the disc."""
    y, x = np.mgrid[:41, :41] - 20
    r = np.hypot(x, y)
    angle = (np.arctan2(y, x) / (2 * np.pi)) % 1.0
    emptied = np.where((r > 8) & (r < 11), (6 * angle).astype(int), -1)
    emptied[r <= 8] = 9
    held = np.zeros(r.shape, bool)
    held[0] = True
    (piece,) = loose_pieces(grid_of(emptied), held)
    assert (piece.motion, piece.place, piece.last) == (5, (20.0, 20.0), False)
    assert piece.cells == (r <= 8).sum()


@pytest.mark.parametrize("overlap", [0.019, 0.021])
def test_columns_hold_together_while_their_intervals_overlap_by_more_than_a_fiftieth(overlap):
    """Grooves from both faces side by side: what is left between them holds, or does not."""
    grid = plate_grid((0, 0, 9, 3), 2.0, 1.0)
    grid.top[:, 4] = 0.2  # a groove from side A, cut last by motion 3
    grid.bottom[:, 5] = 0.2 - overlap  # one from side B, by motion 8
    grid.changed[:, 4], grid.changed[:, 5] = 3, 8
    held = np.zeros((3, 9), bool)
    held[:, 0] = True
    pieces = loose_pieces(grid, held)
    if overlap > 0.02:
        assert pieces == ()
    else:
        (piece,) = pieces
        assert (piece.motion, piece.cells, piece.last) == (8, 12, True)


def test_the_least_area_leaves_out_crumbs():
    emptied = np.full((5, 5), -1)
    emptied[1:4, 1:4] = 2
    emptied[2, 2] = -1
    held = np.zeros((5, 5), bool)
    held[0, 0] = True
    assert len(loose_pieces(grid_of(emptied), held)) == 1
    assert loose_pieces(grid_of(emptied), held, least_area=1.5) == ()
    with pytest.raises(ValueError, match="grid's shape"):
        loose_pieces(grid_of(emptied), held[:3])
