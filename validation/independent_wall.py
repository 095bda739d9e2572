"""Conduction with cure written a second time, in NumPy, for SciPy's implicit integrators.

Nothing here comes from libcure. Equal cells; nodes in the middle of a cell; layers inside to
outside; conductance between nodes that of steady conduction between their radii.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp
from scipy.sparse import diags

R = 8.31446261815324

Array = np.ndarray[Any, np.dtype[np.float64]]


def cylinder(a: Any, b: Any, k: Any) -> Any:
    return np.log(b / a) / (2 * np.pi * k)


def slab(a: Any, b: Any, k: Any) -> Any:
    return (b - a) / k


@dataclass
class Wall:
    """The numbers of the equations, in SI units."""

    C: Array
    """Capacity of each cell [J/K]."""
    G: Array
    """Conductance between neighbours [W/K]."""
    area: tuple[float, float]
    """Of the inner and outer surface."""
    half: tuple[float, float]
    """Resistance from each surface to the node behind it [K/W]."""
    heat: Array
    """Of full cure of each reacting cell [J]."""
    cure: Array
    """Whether a cell cures."""

    def load(self, side: int, h: float) -> float:
        """Conductance from the medium to the first (side 0) or last node [W/K]."""
        return 1 / ((0.0 if np.isinf(h) else 1 / (h * self.area[side])) + self.half[side])


def assemble(geometry: str, inner_radius: float, layers: list[dict[str, Any]], reacting: int, source: float) -> Wall:
    """Cells, capacities and conductances; `source` is the heat of full cure per volume of the reacting layer."""
    resistance = {"slab": slab, "cylinder": cylinder}[geometry]
    count = [layer["cells"] for layer in layers]
    face = [inner_radius]
    for layer in layers:
        face += list(face[-1] + layer["thickness"] * np.arange(1, layer["cells"] + 1) / layer["cells"])
    face = np.array(face)
    node = (face[1:] + face[:-1]) / 2
    owner = np.repeat(np.arange(len(layers)), count)
    k = np.array([layer["conductivity"] for layer in layers])[owner]
    rho_c = np.array([layer["density"] * layer["specific_heat"] for layer in layers])[owner]
    area = np.ones_like(face) if geometry == "slab" else 2 * np.pi * face
    volume = np.diff(face) if geometry == "slab" else np.pi * np.diff(face**2)
    contact = np.array(
        [layers[a].get("contact_outside", 0.0) if a != b else 0.0 for a, b in zip(owner, owner[1:], strict=False)]
    )
    G = 1 / (resistance(node[:-1], face[1:-1], k[:-1]) + contact / area[1:-1] + resistance(face[1:-1], node[1:], k[1:]))
    first, last = (
        (0.0 if face[0] == 0 and geometry != "slab" else resistance(face[0], node[0], k[0])),
        resistance(node[-1], face[-1], k[-1]),
    )
    cure = owner == reacting
    return Wall(rho_c * volume, G, (area[0], area[-1]), (first, last), source * volume[cure], cure)


def solve(
    geometry: str,
    inner_radius: float,
    layers: list[dict[str, Any]],
    inner: Callable[[float], tuple[float, float]] | None,
    outer: Callable[[float], tuple[float, float]] | None,
    start: Array,
    times: Array,
    rate: Callable[[Array, Array], Array],
    reacting: int,
    source: float,
    alpha0: float,
    corners: tuple[float, ...] = (),
    rtol: float = 1e-8,
) -> tuple[Array, Array]:
    """Temperatures (times, cells) [K] and degrees of cure (times, reacting cells) [-].

    `inner` and `outer` give h [W/(m2 K)] (inf for a fixed surface) and temperature [K] at a time;
    None is an insulated surface. The integration restarts at `corners` [s].
    """
    wall = assemble(geometry, inner_radius, layers, reacting, source)
    G, cure, n = wall.G, wall.cure, len(wall.C)
    m = int(cure.sum())

    def load(surface: Any, side: int, t: float, T: float) -> float:
        if surface is None:
            return 0.0
        h, medium = surface(t)
        return wall.load(side, h) * (medium - T)

    def f(t: float, y: Array) -> Array:
        T, alpha = y[:n], y[n:]
        heat = np.zeros(n)
        flow = G * np.diff(T)
        heat[:-1] += flow
        heat[1:] -= flow
        heat[0] += load(inner, 0, t, T[0])
        heat[-1] += load(outer, 1, t, T[-1])
        speed = rate(T[cure], alpha)
        heat[cure] += wall.heat * speed
        return np.concatenate([heat / wall.C, speed])

    pattern = np.zeros((n + m, n + m))
    pattern[:n, :n] = diags([np.ones(n - 1), np.ones(n), np.ones(n - 1)], [-1, 0, 1]).toarray()
    where = np.flatnonzero(cure)
    for row in (where, n + np.arange(m)):
        pattern[row, where] = pattern[row, n + np.arange(m)] = 1

    y, now = np.concatenate([start, np.full(m, alpha0)]), 0.0
    out = np.empty((len(times), n + m))
    out[times == 0] = y
    for stop in sorted({c for c in corners if c < times[-1]} | {times[-1]}):
        inside = (times > now) & (times <= stop)
        points = np.unique(np.append(times[inside], stop))
        part = solve_ivp(f, (now, stop), y, "BDF", points, rtol=rtol, atol=rtol, jac_sparsity=pattern)
        assert part.success, part.message
        out[inside] = part.y.T[np.isin(points, times[inside])]
        y, now = part.y[:, -1], stop
    return out[:, :n], out[:, n:]


def arrhenius(A: float, E: float, T: Array) -> Array:
    return A * np.exp(-E / (R * T))


def power(x: Array, p: float) -> Array:
    return np.clip(x, 0, None) ** p
