"""Lays faces of half-shells flat that are not level, and then the walls round them, by quadrilaterals of its own.

Argument: a JSON list of cases:
{"outline": {"centreline": [[x, y], ...], "width": w} with open ends, or {"rectangle": [length, width, corner radius]} walled all round and level,
 "depth": [at the start, at the end], "crown": c, "edge": inside radius, "thickness": T, "law": [K, n, r, E], "size": of the elements,
 "bend": K-factor; 0 leaves the walls out}. Walls are upright, lengths in mm.
Prints for each "walls", and for each of them "tangent", its tangent line in the flat; "plan", where that line's outside stands in space; "tilt", the
angle by which the crown lets the bend begin later; "strains" [e1, e2] along the line; "cut", the wall's edge in the flat, and "edge", the strain
along it between its places; and "face": [x, y of the outside in plan, x, y in the flat, e1, e2] at the middle of each element. Strains are
logarithmic.

The surface: the depth d(s) at the foot s on the centreline, and over it the skin of even pressure that touches the ball of the edge. The metal:
deformation theory. Its equations here are the forces of the finished sheet itself: along the surface they balance, by virtual sliding of the metal
on it, so that no load on the flat's edge is called for. Nine-node elements, three by three points of Gauss, logarithmic strains from both metrics,
slopes by complex steps, Newton with a direct sparse solve. A face that nothing holds slides off a die that is not even: what it needs against that
is spread over all of its metal as three small loads. The flat is laid on the plan by least squares along the tangent lines.
"""

import json
import math
import sys

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.sparse import coo_matrix, csc_matrix, hstack
from scipy.sparse.linalg import splu

GAUSS = [(-math.sqrt(0.6), 5 / 9), (0.0, 8 / 9), (math.sqrt(0.6), 5 / 9)]


def shapes(x, y):
    """The nine shape functions and their slopes at a place of the square from -1 to 1; node 3 i + j stands at (i - 1, j - 1)."""
    line = lambda t: np.array([t * (t - 1) / 2, 1 - t * t, t * (t + 1) / 2])
    slope = lambda t: np.array([t - 0.5, -2 * t, t + 0.5])
    a, b, da, db = line(x), line(y), slope(x), slope(y)
    return np.outer(a, b).ravel(), np.array([np.outer(da, b).ravel(), np.outer(a, db).ravel()])


def quads_of(grid):
    """Elements over a grid of node numbers, odd both ways."""
    return [grid[i : i + 3, j : j + 3].ravel() for i in range(0, grid.shape[0] - 2, 2) for j in range(0, grid.shape[1] - 2, 2)]


def slopes_at_nodes(quads, plan, heights):
    """Slopes in plan at the nodes, the means of the elements'."""
    total, shares = np.zeros((len(plan), 2)), np.bincount(quads.ravel(), minlength=len(plan))
    for k in range(9):
        slopes = shapes(k // 3 - 1, k % 3 - 1)[1]
        ways = np.einsum("ck,ekx->ecx", slopes, plan[quads])
        np.add.at(total, quads[:, k], np.linalg.solve(ways, (heights[quads] @ slopes.T)[..., None])[..., 0])
    return total / shares[:, None]


def at_nodes(quads, count, values):
    """Means at the nodes of what `values` gives from the shape functions' slopes: taken at two by two points, where slopes are best, and led on."""
    root = math.sqrt(3)
    points = [(x, y, values(shapes(x / root, y / root)[1])) for x in (-1, 1) for y in (-1, 1)]
    total, shares = np.zeros((count, points[0][2].shape[1])), np.bincount(quads.ravel(), minlength=count)
    for k in range(9):
        i, j = root * (k // 3 - 1), root * (k % 3 - 1)
        np.add.at(total, quads[:, k], sum((1 + x * i) * (1 + y * j) / 4 * value for x, y, value in points))
    return total / shares[:, None]


# The sheet's forces.


def forces(formed, flat, law, start):
    """Forces in the finished sheet, per mm of it and of the blank's thickness, by the metric g of the finished sheet (3 numbers) and the flat's
    tangents (x and y by the first parameter, then by the second); N^11, N^12, N^22 times the root of the determinant of g."""
    strength, n, r, _ = law
    c, m = (1 + r) ** 2 / (1 + 2 * r), 2 * r / (1 + r)
    (g11, g12, g22), (ax, ay, bx, by) = formed, flat
    o11, o12, o22 = ax * ax + ay * ay, ax * bx + ay * by, bx * bx + by * by
    det, whole = g11 * g22 - g12 * g12, o11 * o22 - o12 * o12
    # The square of both stretches: the eigenvalues of O^-1 g; u how far apart they are over their sum.
    mean = (o22 * g11 - 2 * o12 * g12 + o11 * g22) / (2 * whole)
    square = 1 - det / whole / mean**2
    small = np.abs(square) < 1e-3
    root = np.sqrt(np.where(small, 0.25, square))
    # atanh(u)/u.
    bent = np.where(small, 1 + square * (1 / 3 + square * (1 / 5 + square * (1 / 7 + square / 9))), np.arctanh(root) / root)
    total = np.log(det / whole) / 2
    q = c * ((2 + m) / 4 * total**2 + (2 - m) / 4 * square * bent**2)
    stress = strength / 2 * (q + start**2) ** ((n - 1) / 2) * c * np.exp(-total)
    # Half the logarithm of O^-1 g is (total I + bent (O^-1 g / mean - I))/2; with its first index raised by g.
    even, uneven = (2 + m) / 2 * total - (2 - m) / 2 * bent, (2 - m) / 2 * bent / (mean * whole)
    scale = stress * np.sqrt(det)
    return np.array(
        [
            scale * (even * g22 / det + uneven * o22),
            scale * (-even * g12 / det - uneven * o12),
            scale * (even * g11 / det + uneven * o11),
        ]
    )


def strains(formed, flat):
    """The greater and the lesser logarithmic strain."""
    (g11, g12, g22), (ax, ay, bx, by) = formed, flat
    o11, o12, o22 = ax * ax + ay * ay, ax * bx + ay * by, bx * bx + by * by
    whole = o11 * o22 - o12 * o12
    mean = (o22 * g11 - 2 * o12 * g12 + o11 * g22) / (2 * whole)
    apart = np.sqrt(np.maximum(mean**2 - (g11 * g22 - g12 * g12) / whole, 0))
    return np.log(mean + apart) / 2, np.log(mean - apart) / 2


class Sheet:
    """A finished sheet: nodes in space with their normals, and elements. `up` is the way up a bend at each node, with its direction; lengths along
    it count `factor` times."""

    def __init__(self, places, normals, quads, up=None, upward=None, factor=1.0):
        self.places, self.quads, self.extra = places, quads, factor**2 - 1
        first = np.eye(3)[0] - normals * normals[:, :1]
        thin = np.linalg.norm(first, axis=1) < 0.5
        first[thin] = np.eye(3)[1] - normals[thin] * normals[thin, 1:2]
        first /= np.linalg.norm(first, axis=1)[:, None]
        self.slides = np.stack([first, np.cross(normals, first)], axis=1)
        self.up = np.zeros(len(places)) if up is None else up
        self.climbs = np.zeros((len(places), 2)) if up is None else np.einsum("nkc,nc->nk", self.slides, upward)

    def metric(self, slopes):
        a = np.einsum("ak,ekc->eac", slopes, self.places[self.quads])
        u = np.einsum("ak,ek->ea", slopes, self.up[self.quads])
        g = [(a[:, i] * a[:, j]).sum(axis=1) + self.extra * u[:, i] * u[:, j] for i, j in [(0, 0), (0, 1), (1, 1)]]
        return np.array(g), a, u

    def tangents(self, slopes, flat):
        return np.einsum("ak,ekc->ace", slopes, flat[self.quads]).reshape(4, -1)

    def strains(self, flat):
        return at_nodes(self.quads, len(flat), lambda s: np.stack(strains(self.metric(s)[0], self.tangents(s, flat)), axis=1))

    def laid_flat(self, start, held, law):
        """Where the nodes lie in the flat; a sheet of which nothing is held is kept from sliding by three spread loads."""
        count, quads = len(self.places), self.quads
        points = []
        spread = np.zeros((count, 2, 3))
        for (x, wx) in GAUSS:
            for (y, wy) in GAUSS:
                value, slopes = shapes(x, y)
                g, a, u = self.metric(slopes)
                # What sliding a node does to the three numbers of the metric, halved: (elements, 3, 9, 2).
                ways = np.einsum("eac,ekdc->eakd", a, self.slides[quads])
                ways += self.extra * np.einsum("ea,ekd->eakd", u, self.climbs[quads])
                test = np.stack([ways[:, 0] * slopes[0][:, None], ways[:, 0] * slopes[1][:, None] + ways[:, 1] * slopes[0][:, None],
                                 ways[:, 1] * slopes[1][:, None]], axis=1) * (wx * wy)
                points.append((slopes, g, test.reshape(len(quads), 3, 18)))
                area = wx * wy * np.sqrt(g[0] * g[2] - g[1] ** 2)
                at = start[quads] - start.mean(axis=0)
                rigid = [np.broadcast_to([1.0, 0], at.shape), np.broadcast_to([0, 1.0], at.shape), np.stack([-at[..., 1], at[..., 0]], axis=-1)]
                for k, move in enumerate(rigid):
                    push = np.einsum("ekdc,ekc->ekd", self.slides[quads][..., :2], move)
                    np.add.at(spread[:, :, k], quads, area[:, None, None] * value[:, None] * push)
        held = held.copy()
        loose = not held.any()
        if loose:
            # Three numbers are given to the flat, far apart; the loads take their place among the unknowns.
            one, two = start[:, 0].argmin(), start[:, 0].argmax()
            held[one], held[two, 1] = True, True
        free = ~held.ravel()
        number = np.cumsum(free) - 1
        dofs = (2 * quads[:, :, None] + np.arange(2)).reshape(len(quads), 18)
        rows = np.arange(2 * count) if loose else number
        kept = np.ones(2 * count, bool) if loose else free
        loads = spread.reshape(-1, 3)[kept] if loose else np.zeros((kept.sum(), 0))

        def residual(flat, load, soft):
            out = np.zeros(2 * count)
            for slopes, g, test in points:
                np.add.at(out, dofs, np.einsum("ce,eci->ei", forces(g, self.tangents(slopes, flat), law, soft), test))
            return out[kept] + loads @ load

        def matrix(flat, soft):
            whole = np.zeros((len(quads), 18, 18))
            for slopes, g, test in points:
                tangents = self.tangents(slopes, flat).astype(complex)
                for k in range(4):
                    tangents[k] += 1e-30j
                    change = forces(g, tangents, law, soft).imag / 1e-30
                    tangents[k] -= 1e-30j
                    own = np.einsum("ce,eci->ei", change, test)
                    whole[:, :, k % 2 :: 2] += own[:, :, None] * slopes[k // 2]
            i, j = np.repeat(dofs[:, :, None], 18, axis=2), np.repeat(dofs[:, None, :], 18, axis=1)
            keep = kept[i] & free[j]
            square = coo_matrix((whole[keep], (rows[i[keep]], number[j[keep]])), shape=(kept.sum(), free.sum()))
            return hstack([square, csc_matrix(loads)]).tocsc()

        flat, load = start.copy(), np.zeros(loads.shape[1])
        soft = (law[0] / law[3]) ** (1 / (1 - law[1]))
        for d0 in [1.0, 0.1, 0.02, 0.01, 0.005, 0.003, soft]:
            r = residual(flat, load, d0)
            for _ in range(40):
                step = -splu(matrix(flat, d0)).solve(r)
                share = 1.0
                while True:
                    move = np.zeros(2 * count)
                    move[free] = share * step[: free.sum()]
                    next_flat, next_load = flat + move.reshape(-1, 2), load + share * step[free.sum() :]
                    next_r = residual(next_flat, next_load, d0)
                    if np.isfinite(next_r).all() and np.linalg.norm(next_r) < np.linalg.norm(r) * (1 - 0.1 * share) or share < 1e-3:
                        break
                    share /= 2
                flat, load, r = next_flat, next_load, next_r
                if np.abs(move).max() < 1e-8 or (d0 != soft and np.abs(move).max() < 1e-2):
                    break
            else:
                raise ArithmeticError("the forces found no balance")
        return flat


# The formed shell.


class Rail:
    """A line with a width, open at both ends, the depth changing evenly along it."""

    def __init__(self, case):
        outline, size = case["outline"], case["size"]
        through = np.array(outline["centreline"], float)
        chords = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(through, axis=0), axis=1))])
        self.line, self.half = CubicSpline(chords, through, bc_type="natural"), outline["width"] / 2
        fine = np.linspace(0, chords[-1], 20001)
        speed = np.linalg.norm(self.line(fine, 1), axis=1)
        lengths = CubicSpline(fine, speed).antiderivative()
        self.length, self.whole = lengths, float(lengths(chords[-1]))
        self.depth = case["depth"]
        self.slope = (self.depth[1] - self.depth[0]) / self.whole
        columns, self.rows = 2 * round(self.whole / size) + 1, 2 * round(outline["width"] / size) + 1
        # Elements end at the knots, where the line's third derivative jumps.
        self.u = np.interp(np.linspace(0, self.whole, columns), lengths(fine), fine)
        for knot in chords[1:-1]:
            near = 2 * np.abs(self.u[::2] - knot).argmin()
            self.u[near] = knot
        self.u[1::2] = (self.u[:-1:2] + self.u[2::2]) / 2
        self.grid = np.arange(columns * self.rows).reshape(columns, self.rows)
        self.quads = np.array(quads_of(self.grid))
        self.walls = [(self.grid[:, 0], False), (self.grid[:, -1], False)]
        self.guess = np.repeat(self.u, self.rows)

    def ways(self, u):
        along = self.line(u, 1)
        along = along / np.linalg.norm(along, axis=1)[:, None]
        return along, np.stack([-along[:, 1], along[:, 0]], axis=1)

    def height(self, p, u):
        """Height of the outside without crown over places near the line's parameters u, and its gradient."""
        u = u.copy()
        for _ in range(30):
            q, v, w = self.line(u), self.line(u, 1), self.line(u, 2)
            off = p - q
            step = (off * v).sum(axis=1) / ((v * v).sum(axis=1) - (off * w).sum(axis=1))
            u += step
            if np.abs(step).max() < 1e-11:
                break
        along, left = self.ways(u)
        v, w = self.line(u, 1), self.line(u, 2)
        bend = (v[:, 0] * w[:, 1] - v[:, 1] * w[:, 0]) / np.linalg.norm(v, axis=1) ** 3
        share = 1 - bend * ((p - self.line(u)) * left).sum(axis=1)
        return self.depth[0] + self.slope * self.length(u), along * (self.slope / share)[:, None]

    def edge(self, wall, place):
        """Places of the profile and the way out of it."""
        left = self.ways(place)[1]
        out = -left if wall == 0 else left
        return self.line(place) + out * self.half, out

    def places(self, wall):
        return self.u

    def set_back(self, wall, place, over):
        """The parameters at which what now stands over `over` would stand on the planes square to the line at u."""
        along, _ = self.ways(self.u)
        return place - ((over - self.line(self.u)) * along).sum(axis=1) / np.linalg.norm(self.line(self.u, 1), axis=1)

    def inner(self, touches):
        share = np.linspace(0, 1, self.rows)[None, :, None]
        return (touches[0][:, None] * (1 - share) + touches[1][:, None] * share).reshape(-1, 2)


class Cover:
    """A rectangle with round corners, walled all round; level."""

    def __init__(self, case):
        (length, width, corner), size = case["outline"]["rectangle"], case["size"]
        self.depth, self.slope = case["depth"], 0.0
        a, b, r = length / 2, width / 2, corner
        arc = max(2, round(r * math.pi / 4 / size))
        corners = [(a - r, b - r), (r - a, b - r), (r - a, r - b), (a - r, r - b)]
        at, out, sides = [], [], []
        for k in range(4):
            # From the middle of one corner over a straight side to the middle of the next.
            (p, q), turn = (np.array(corners[k]), np.array(corners[(k + 1) % 4])), math.pi / 2 * k
            angles = np.linspace(turn + math.pi / 4, turn + math.pi / 2, 2 * arc + 1)
            way = lambda angle: np.stack([np.cos(angle), np.sin(angle)], axis=1)
            straight = np.linalg.norm(q - p)
            steps = 2 * max(2, round(straight / size)) if straight > 0 else 0
            side = [p + 0 * way(angles), *([p + (q - p) * s / steps] for s in range(1, steps)), q + 0 * way(angles)]
            outs = [way(angles), *(way(angles[-1:]) for _ in range(1, steps)), way(angles + math.pi / 4)]
            if not steps:
                side, outs = [side[0][:-1], side[-1]], [outs[0][:-1], outs[-1]]
            side, outs = np.concatenate(side), np.concatenate(outs)
            at.append(side[:-1] + r * outs[:-1])
            out.append(outs[:-1])
            sides.append(len(side) - 1)
        self.at, self.out = np.concatenate(at), np.concatenate(out)
        count, rings = len(self.at), 2 * max(3, round(min(a, b) / 2 / size))
        # Rings round a rectangle, whose own grid goes on from them.
        ring = np.arange(count * rings).reshape(rings, count)
        n, m = sides[0], sides[1]
        inside = -np.ones((n + 1, m + 1), int)
        edge = [(n - i, m) for i in range(n)] + [(0, m - j) for j in range(m)] + [(i, 0) for i in range(n)] + [(n, j) for j in range(m)]
        last = count * rings
        for k, (i, j) in enumerate(edge):
            inside[i, j] = last + k
        last += count
        core = inside < 0
        inside[core] = last + np.arange(core.sum())
        around = np.vstack([ring, [inside[i, j] for i, j in edge]])
        around = np.hstack([around, around[:, :1]])
        self.quads = np.array([q.reshape(3, 3)[::-1].ravel() for q in quads_of(around)] + quads_of(inside))
        self.rings, self.around, self.inside, self.edge_places = rings, around, inside, edge
        self.box = (a - 0.5 * min(a, b), b - 0.5 * min(a, b))
        self.walls = [(ring[0], True)]
        self.guess = np.zeros(inside.max() + 1)

    def height(self, p, _):
        return np.full(len(p), float(self.depth[0])), np.zeros_like(p)

    def edge(self, wall, place):
        return self.at, self.out

    def places(self, wall):
        return np.zeros(len(self.at))

    def set_back(self, wall, place, over):
        return place

    def inner(self, touches):
        touch, (x, y) = touches[0], self.box
        nodes = np.zeros((self.inside.max() + 1, 2))
        n, m = self.inside.shape[0] - 1, self.inside.shape[1] - 1
        # Spaced as the outline is, from end to end.
        spaced = lambda values: 2 * (values - values[0]) / (values[-1] - values[0]) - 1
        top = spaced(-self.at[: n + 1, 0])[::-1] * -x
        up = spaced(-self.at[n : n + m + 1, 1])[::-1] * -y
        nodes[self.inside] = np.stack(np.meshgrid(top, up, indexing="ij"), axis=-1)
        core = nodes[[self.inside[i, j] for i, j in self.edge_places]]
        for k in range(self.rings):
            nodes[self.around[k, :-1]] = touch + (core - touch) * k / self.rings
        return nodes


def unit(v):
    return v / np.linalg.norm(v, axis=-1)[..., None]


def normals_of(gradient):
    return unit(np.concatenate([-gradient, np.ones((len(gradient), 1))], axis=1))


class Edges:
    """The bend of a wall at places of the profile: the ball that touches face and wall, walls upright."""

    def __init__(self, shell, wall, place, radius):
        at, out = shell.edge(wall, place)
        self.radius, self.out = radius, np.concatenate([out, np.zeros((len(out), 1))], axis=1)
        plan = at - out * radius
        normal = np.tile([0.0, 0.0, 1.0], (len(at), 1))
        for _ in range(60):
            height, gradient = shell.height(plan + normal[:, :2] * radius, place)
            before, normal = normal, normals_of(gradient)
            if np.abs(normal - before).max() < 1e-13:
                break
        self.centre = np.concatenate([plan, (height - radius * normal[:, 2])[:, None]], axis=1)
        self.normal = normal
        self.angle = np.arccos((normal * self.out).sum(axis=1))

    def round(self, turned):
        """The normal where the metal has turned by so much from the face without crown."""
        return (self.normal * np.sin(self.angle - turned)[:, None] + self.out * np.sin(turned)[:, None]) / np.sin(self.angle)[:, None]

    def turned(self, gradient):
        """How far toward the wall a face of that gradient stands."""
        normal = normals_of(gradient)
        across = unit(self.out - self.normal * np.cos(self.angle)[:, None])
        return np.arctan2((normal * across).sum(axis=1), (normal * self.normal).sum(axis=1))


def on_planes(shell, wall, radius, at):
    """The edges at those places of the profile from which `at(edges)`, in space, stands on the planes of the columns."""
    place = shell.places(wall)
    for _ in range(4):
        edges = Edges(shell, wall, place, radius)
        place = shell.set_back(wall, place, at(edges)[:, :2])
    return Edges(shell, wall, place, radius)


def skin(shell, radius, crown, thickness):
    """Nodes of the face's outside in plan, their heights, normals, and the tilts of each wall's edge."""
    quads = shell.quads
    tilts = [np.zeros(len(nodes)) for nodes, _ in shell.walls]
    for _ in range(60):
        edges, touches = [], []
        for wall, tilt in enumerate(tilts):
            middle = lambda e, tilt=tilt: e.centre + (radius - thickness / 2) * e.round(tilt)
            edges.append(on_planes(shell, wall, radius, middle))
            touches.append(edges[-1].centre + radius * edges[-1].round(tilt))
        plan = shell.inner([touch[:, :2] for touch in touches])
        base, slope = shell.height(plan, shell.guess)
        if crown == 0:
            rise, gradient = np.zeros(len(plan)), slope
            break
        fixed = np.zeros(len(plan), bool)
        level = np.zeros(len(plan))
        for (nodes, _), touch in zip(shell.walls, touches):
            fixed[nodes], level[nodes] = True, touch[:, 2] - base[nodes]
        stiff, load = np.zeros((len(quads), 9, 9)), np.zeros(len(plan))
        for (x, wx) in GAUSS:
            for (y, wy) in GAUSS:
                value, s = shapes(x, y)
                ways = np.einsum("ck,ekx->ecx", s, plan[quads])
                area, d = wx * wy * np.abs(np.linalg.det(ways)), np.linalg.inv(ways) @ s
                stiff += np.einsum("e,eak,eal->ekl", area, d, d)
                np.add.at(load, quads, area[:, None] * value)
        i, j = np.repeat(quads[:, :, None], 9, axis=2), np.repeat(quads[:, None, :], 9, axis=1)
        matrix = coo_matrix((stiff.ravel(), (i.ravel(), j.ravel())), shape=(len(plan),) * 2).tocsc()
        free = ~fixed
        factors = splu(matrix[free][:, free])
        even = np.zeros(len(plan))
        even[free] = factors.solve(load[free])
        level[free] = factors.solve(-(matrix[free][:, fixed] @ level[fixed]))
        low, high = 0.0, 2 * (crown - level.min()) / even.max()
        for _ in range(80):
            pressure = (low + high) / 2
            low, high = (pressure, high) if (level + pressure * even).max() < crown else (low, pressure)
        rise = level + pressure * even
        gradient = slope + slopes_at_nodes(quads, plan, rise)
        steeper = [edge.turned(gradient[nodes]) for edge, (nodes, _) in zip(edges, shell.walls)]
        change = max(np.abs(a - b).max() for a, b in zip(steeper, tilts))
        tilts = steeper
        if change < 1e-8:
            break
    normals = normals_of(gradient)
    for edge, tilt, (nodes, _) in zip(edges, tilts, shell.walls):
        normals[nodes] = edge.round(tilt)
    return np.concatenate([plan, (base + rise)[:, None]], axis=1), normals, tilts


def onto(flat, plan, weights):
    """Turns and shifts the flat so that weighted nodes of it lie as near as can be on the plan."""
    share = weights / weights.sum()
    a, b = share @ flat, share @ plan
    p, q = flat - a, plan - b
    turn = math.atan2(share @ (p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]), share @ (p * q).sum(axis=1))
    c, s = math.cos(turn), math.sin(turn)
    return p @ np.array([[c, s], [-s, c]]) + b


def wall_round(shell, wall, closed, tilt, tangent, case):
    """The cut of a wall in the flat and the strain along it, the tangent line being held."""
    size, thickness, inside = case["size"], case["thickness"], case["edge"]
    radius, mid = inside + thickness, inside + thickness / 2
    bend_rows, wall_rows = 16, 2 * max(3, round(max(case["depth"]) / size))
    places, normals, ups, ways = [], [], [], []
    for row in range(bend_rows + wall_rows + 1):
        down = max(0, row - bend_rows) / wall_rows
        turned = lambda e: tilt + (e.angle - tilt) * min(row / bend_rows, 1)
        at = lambda e: e.centre + mid * e.round(turned(e)) - np.outer(e.centre[:, 2] * down, [0, 0, 1.0])
        e = on_planes(shell, wall, radius, at)
        places.append(at(e))
        normals.append(e.round(turned(e)))
        ups.append(mid * (turned(e) - tilt))
        ways.append(np.cross(unit(np.cross(e.normal, e.out)), e.round(turned(e))))
    stack = lambda values: np.stack(values, axis=1).reshape((-1,) + values[0].shape[1:])
    columns, rows = len(tilt), len(places)
    grid = np.arange(columns * rows).reshape(columns, rows)
    quads = quads_of(np.vstack([grid, grid[:1]]) if closed else grid)
    around = np.vstack([tangent[-1:], tangent, tangent[:1]]) if closed else tangent
    along = np.gradient(around, axis=0)[1:-1] if closed else np.gradient(around, axis=0)
    along = unit(along) * (1.0 if wall == 0 else -1.0)
    outward = np.stack([along[:, 1], -along[:, 0]], axis=1)
    factor = (inside + case["bend"] * thickness) / mid
    places, ups = stack(places), stack(ups)
    heights = ups.reshape(columns, rows) * factor
    heights[:, bend_rows:] += np.linspace(0, 1, wall_rows + 1) * (places.reshape(columns, rows, 3)[:, bend_rows, 2:3])
    start = (tangent[:, None] + outward[:, None] * heights[:, :, None]).reshape(-1, 2)
    held = np.zeros((columns * rows, 2), bool)
    held[grid[:, 0]] = True
    sheet = Sheet(places, stack(normals), np.array(quads), ups, stack(ways), factor)
    flat = sheet.laid_flat(start, held, case["law"])
    cut = grid[:, -1]
    line = np.arange(columns + (1 if closed else 0)) % columns
    lengths = lambda x: np.linalg.norm(np.diff(x[cut[line]], axis=0), axis=1)
    return flat[cut], np.log(lengths(places) / lengths(flat))


def solve(case):
    shell = Rail(case) if "centreline" in case["outline"] else Cover(case)
    thickness = case["thickness"]
    outside, normals, tilts = skin(shell, case["edge"] + thickness, case["crown"], thickness)
    sheet = Sheet(outside - normals * thickness / 2, normals, shell.quads)
    flat = sheet.laid_flat(outside[:, :2].copy(), np.zeros((len(outside), 2), bool), case["law"])
    weights = np.zeros(len(flat))
    for nodes, closed in shell.walls:
        line = outside[nodes, :2]
        steps = np.linalg.norm(np.diff(np.vstack([line, line[:1]]), axis=0), axis=1)
        steps[-1] *= closed
        weights[nodes] += (steps + np.roll(steps, 1)) / 2
    flat = onto(flat, outside[:, :2], weights)
    strain = sheet.strains(flat)
    said = {"walls": []}
    for wall, ((nodes, closed), tilt) in enumerate(zip(shell.walls, tilts)):
        cut, edge = wall_round(shell, wall, closed, tilt, flat[nodes], case) if case.get("bend") else (np.zeros((0, 2)), np.zeros(0))
        said["walls"].append({"tangent": flat[nodes].tolist(), "plan": outside[nodes].tolist(), "tilt": tilt.tolist(),
                              "strains": strain[nodes].tolist(), "cut": cut.tolist(), "edge": edge.tolist()})
    middle = shell.quads[:, 4]
    said["face"] = np.hstack([outside[middle, :2], flat[middle], strain[middle]]).tolist()
    return said


if __name__ == "__main__":
    with open(sys.argv[1]) as file:
        print(json.dumps([solve(case) for case in json.load(file)]))
