"""Lays a wall along an arc flat whose one end is cut square and free, by quadrilaterals of its own: not the program's triangles.

Argument: a JSON list of {"tangent": radius of the tangent line, "convex": bool, "bend": mid radius of the bend, "factor": developed over mid
length of the bend, "wall": height of the straight wall, "law": [K, n, r, E]}. Prints for each [x, y] of the blank's corner at the free edge,
the arc's centre being the origin and its end on the x axis, and the strain of the free edge there and far from it.

The sheet's work is that of deformation theory, W = K/(n+1) (q + d0^2)^((n+1)/2), q = C (e1^2 + e2^2 + m e1 e2) of the principal logarithmic
strains; metal moves in the flat until the work of the finished strains has no slope, each piece's volume being held. Four-node
isoparametric elements, two by two points of Gauss; the matrix by differences of the forces; Newton's steps with a direct sparse solve.
"""

import json
import math
import sys

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

COLUMNS, BEND_ROWS, WALL_ROWS = 64, 8, 20


def squared_difference(y):
    """The square of acosh(y) and its slope, smooth at y = 1."""
    u = y - 1
    series = u * (2 + u * (-1 / 3 + u * (4 / 45 + u * (-1 / 35 + u * 16 / 1575))))
    slope = 2 + u * (-2 / 3 + u * (4 / 15 + u * (-4 / 35 + u * 16 / 315)))
    far = np.maximum(y, 1.001)
    angle, root = np.arccosh(far), np.sqrt(far * far - 1)
    small = u < 1e-3
    return np.where(small, series, angle**2), np.where(small, slope, 2 * angle / root)


class Wall:
    def __init__(self, case):
        self.tangent, self.sign = case["tangent"], 1.0 if case["convex"] else -1.0
        strength, self.n, r, modulus = case["law"]
        self.strength = strength
        self.meeting = (strength / modulus) ** (1 / (1 - self.n))
        self.factor = (1 + r) ** 2 / (1 + 2 * r)
        self.mixed = 2 * r / (1 + r)
        bend = case["bend"]
        developed = bend * math.pi / 2 * case["factor"]
        s = np.concatenate([np.linspace(0, developed, BEND_ROWS + 1), developed + np.linspace(0, case["wall"], WALL_ROWS + 1)[1:]])
        width = s[-1]
        # Close to the free end, wide far from it; five wall widths long.
        x = np.linspace(0, 1, COLUMNS + 1)
        along = 5 * width * (0.12 * x + 0.88 * x**3)
        self.phi, self.s = along / self.tangent, s
        self.bend, self.developed, self.scale = bend, developed, case["factor"]
        rows, columns = len(s), len(self.phi)
        self.rows, self.columns = rows, columns
        node = lambda i, j: i * rows + j
        self.quads = np.array(
            [[node(i, j), node(i + 1, j), node(i + 1, j + 1), node(i, j + 1)] for i in range(columns - 1) for j in range(rows - 1)]
        )
        grid = np.array([[p, q] for p in self.phi for q in s])
        self.grid = grid
        corners = grid[self.quads]
        g = 1 / math.sqrt(3)
        self.points = []
        for a, b in [(-g, -g), (g, -g), (g, g), (-g, g)]:
            shape = np.array([(1 - a) * (1 - b), (1 + a) * (1 - b), (1 + a) * (1 + b), (1 - a) * (1 + b)]) / 4
            da = np.array([-(1 - b), 1 - b, 1 + b, -(1 + b)]) / 4
            db = np.array([-(1 - a), -(1 + a), 1 + a, 1 - a]) / 4
            place = np.einsum("k,ekc->ec", shape, corners)
            ja, jb = np.einsum("k,ekc->ec", da, corners), np.einsum("k,ekc->ec", db, corners)
            area = ja[:, 0] * jb[:, 1] - ja[:, 1] * jb[:, 0]
            # Slopes of the shape functions along phi and s.
            dphi = (da[None, :] * jb[:, 1:2] - db[None, :] * ja[:, 1:2]) / area[:, None]
            ds = (db[None, :] * ja[:, 0:1] - da[None, :] * jb[:, 0:1]) / area[:, None]
            self.points.append((dphi, ds, area, self.radius(place[:, 1])))

    def radius(self, s):
        angle = np.minimum(s / self.developed, 1) * math.pi / 2
        return self.tangent + self.sign * self.bend * np.sin(angle)

    def forces(self, x, start):
        """Slope of each element's work by its corners in the flat (elements, 4, 2); each piece's volume, per thickness, does not move."""
        out = np.zeros_like(x)
        for dphi, ds, area, rho in self.points:
            a, b = np.einsum("ek,ekc->ec", dphi, x), np.einsum("ek,ekc->ec", ds, x)
            det = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
            # C = J^-T G J^-1 with G = diag(rho^2, 1): its trace, and the root of its determinant.
            trace = (rho**2 * (b**2).sum(axis=1) + (a**2).sum(axis=1)) / det**2
            # Walls of outside curves are walked the other way round.
            turned = -self.sign * det
            whole = rho / turned
            y = trace / (2 * whole)
            log_area = np.log(whole)
            apart, apart_slope = squared_difference(y)
            m = self.mixed
            q = self.factor * (log_area**2 * (2 + m) / 4 + apart * (2 - m) / 4)
            stress = self.strength / 2 * (q + start**2) ** ((self.n - 1) / 2) * self.factor * turned * area
            d_det = dphi[:, :, None] * np.stack([b[:, 1], -b[:, 0]], axis=1)[:, None] + ds[:, :, None] * np.stack(
                [-a[:, 1], a[:, 0]], axis=1
            )[:, None]
            d_det /= det[:, None, None]
            d_trace = 2 * (rho**2)[:, None, None] * ds[:, :, None] * b[:, None] + 2 * dphi[:, :, None] * a[:, None]
            d_trace = d_trace / (det**2)[:, None, None] - 2 * trace[:, None, None] * d_det
            d_y = d_trace / (2 * whole)[:, None, None] + y[:, None, None] * d_det
            out += stress[:, None, None] * (
                -((2 + m) / 2 * log_area)[:, None, None] * d_det + ((2 - m) / 4 * apart_slope)[:, None, None] * d_y
            )
        return out

    def solve(self):
        rows, columns = self.rows, self.columns
        p = self.tangent + self.sign * self.grid[:, 1]
        flat = np.stack([p * np.cos(self.grid[:, 0]), p * np.sin(self.grid[:, 0])], axis=1)
        # Each node has its own axes, out and along, so that the far end may slide on its own line.
        out = np.stack([np.cos(self.grid[:, 0]), np.sin(self.grid[:, 0])], axis=1)
        axes = np.stack([out, np.stack([-out[:, 1], out[:, 0]], axis=1)], axis=1)
        free = np.ones((rows * columns, 2), dtype=bool)
        free[np.arange(columns) * rows] = False
        free[(columns - 1) * rows :, 1] = False
        number = -np.ones((rows * columns, 2), dtype=int)
        number[free] = np.arange(free.sum())
        dofs = number[self.quads].reshape(len(self.quads), 8)
        local = axes[self.quads]

        def residual(flat, start):
            f = self.forces(flat[self.quads], start)
            f = np.einsum("ekac,ekc->eka", local, f).reshape(-1, 8)
            r = np.zeros(free.sum())
            keep = dofs >= 0
            np.add.at(r, dofs[keep], f[keep])
            return r

        def matrix(flat, start):
            x = flat[self.quads]
            k = np.empty((len(x), 8, 8))
            h = 1e-5
            for node in range(4):
                for axis in range(2):
                    step = np.zeros_like(x)
                    step[:, node] = local[:, node, axis] * h
                    change = (self.forces(x + step, start) - self.forces(x - step, start)) / (2 * h)
                    k[:, :, 2 * node + axis] = np.einsum("ekac,ekc->eka", local, change).reshape(-1, 8)
            i = np.repeat(dofs[:, :, None], 8, axis=2)
            j = np.repeat(dofs[:, None, :], 8, axis=1)
            keep = (i >= 0) & (j >= 0)
            return coo_matrix((k[keep], (i[keep], j[keep])), shape=(free.sum(),) * 2).tocsc()

        for start in [2.0, 0.3, 0.05, 0.01, self.meeting]:
            r = residual(flat, start)
            for _ in range(60):
                step = -spsolve(matrix(flat, start), r)
                share = 1.0
                while True:
                    move = np.zeros((rows * columns, 2))
                    move[free] = step * share
                    next_flat = flat + np.einsum("nac,na->nc", axes, move)
                    next_r = residual(next_flat, start)
                    if np.isfinite(next_r).all() and np.linalg.norm(next_r) < np.linalg.norm(r) * (1 - 0.1 * share):
                        break
                    share /= 2
                    if share < 1e-6:
                        break
                flat, r = next_flat, next_r
                if np.abs(step * share).max() < 1e-7:
                    break
        edge = flat.reshape(columns, rows, 2)[:, -1]
        lengths = np.linalg.norm(np.diff(edge, axis=0), axis=1)
        formed = self.radius(self.s[-1:])[0] * np.diff(self.phi)
        strains = np.log(formed / lengths)
        return edge[0].tolist() + [float(strains[0]), float(strains[-1])]


with open(sys.argv[1]) as file:
    print(json.dumps([Wall(case).solve() for case in json.load(file)]))
