"""How flux spreads in the plane of the iron below saturation: linear elements on a rectangle with a window in it.

A flux runs round the window, A = 0 on the outer edge (and in the middle of a leg that two windows share), all of it on
the window's edge; the iron's energy is least. For the loss of cores whose fields were solved far in saturation only.
"""

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import spsolve

from geometries.cores.kinds import AnyCore
from tests.support.open_laws import Law
from tests.truth.sheet import Floats

ACROSS = 10
"""Elements across a leg."""


def spread(core: AnyCore, law: Law, leg: float, powers: tuple[float, ...]) -> Floats:
    """Return the iron's mean of (b over the leg's)^p for each power; the leg's mean is `leg` [T], stack included."""
    frame = core.frame
    share = len(frame.legs) - 1
    left, right = frame.wound_leg.width / share, frame.legs[-1].width
    x0, y0 = left, frame.yoke_height
    x1, y1 = x0 + frame.window_width, y0 + frame.window_height
    width, height = x1 + right, y1 + frame.yoke_height
    xs = np.concatenate([_cut(0, x0), _cut(x0, x1)[1:], _cut(x1, width)[1:]])
    ys = np.concatenate([_cut(0, y0), _cut(y0, y1, 2)[1:], _cut(y1, height)[1:]])
    X, Y = np.meshgrid(xs, ys, indexing="ij")
    number = np.arange(X.size).reshape(X.shape)
    a, b, c, d = (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:])
    triangles = np.concatenate([np.stack(t, axis=-1).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    p = np.stack([X.ravel(), Y.ravel()], axis=1)
    middle = p[triangles].mean(axis=1)
    hole = (middle[:, 0] > x0) & (middle[:, 0] < x1) & (middle[:, 1] > y0) & (middle[:, 1] < y1)
    triangles = triangles[~hole]
    e = p[triangles[:, [2, 0, 1]]] - p[triangles[:, [1, 2, 0]]]
    area = 0.5 * np.abs(e[:, 0, 0] * e[:, 1, 1] - e[:, 0, 1] * e[:, 1, 0])
    G = np.stack([-e[..., 1], e[..., 0]], axis=-1) / (2 * area[:, None, None])
    edge = 1e-9
    outer = (p[:, 0] < edge) | (p[:, 0] > width - edge) | (p[:, 1] < edge) | (p[:, 1] > height - edge)
    inner = (p[:, 0] > x0 - edge) & (p[:, 0] < x1 + edge) & (p[:, 1] > y0 - edge) & (p[:, 1] < y1 + edge)
    A = np.where(inner, leg * left, 0.0)
    free = np.flatnonzero(~outer & ~inner)
    rows, columns = np.repeat(triangles, 3, axis=1).ravel(), np.tile(triangles, 3).ravel()

    def state(A: Floats) -> tuple[float, Floats, sparse.csr_matrix]:
        B = np.einsum("eix,ei->ex", G, A[triangles])
        size = np.maximum(np.linalg.norm(B, axis=1), 1e-3)
        H, slope = law.field(size)
        nu, e = H / size, B / size[:, None]
        pull = np.einsum("e,eix,ex->ei", nu * area, G, B)
        residual = np.bincount(triangles.ravel(), pull.ravel(), minlength=len(p))
        along = np.einsum("eix,ex->ei", G, e)
        local = np.einsum("e,eix,ejx->eij", nu * area, G, G)
        local += np.einsum("e,ei,ej->eij", (slope - nu) * area, along, along)
        K = sparse.csr_matrix((local.ravel(), (rows, columns)), shape=(len(p), len(p)))
        return float((law.energy(size) * area).sum()), residual, K

    A[free] = 0.5 * leg * left
    energy, residual, K = state(A)
    for _ in range(60):
        step, share = np.zeros(len(p)), 1.0
        step[free] = -spsolve(K[free][:, free], residual[free])
        slope = float(step @ residual)
        trial = state(A + step)
        while trial[0] > energy + 0.1 * share * slope and share > 1e-3:
            share *= 0.5
            trial = state(A + share * step)
        A = A + share * step
        energy, residual, K = trial
        if -slope < 1e-8 * energy:
            break
    size = np.linalg.norm(np.einsum("eix,ei->ex", G, A[triangles]), axis=1) / leg
    return np.array([(size**power * area).sum() / area.sum() for power in powers])


def _cut(low: float, high: float, fewer: int = 1) -> Floats:
    return np.linspace(low, high, 2 * ACROSS // fewer + 1)
