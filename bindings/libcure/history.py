"""The whole history of a prediction as NumPy arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from libcure import _core

__all__ = ["History", "StageHistory", "Trace"]

MIXED_MASS = "mixed mass"
LAYERS = ("bladder", "liner", "pipe", "ground")
# What stands in a layer's place where it is missing.
FILLED = {"bladder in gap": "liner", "open gap": "liner", "soil in gap": "pipe"}
# Straight lines between samples then follow the solver's cubic within a few hundredths of a kelvin.
POINTS_WITHIN_STEP = 3


@dataclass(frozen=True, eq=False)
class Trace:
    """What is at one place of the job over time."""

    place: str
    time_min: NDArray[np.float64]
    """(n,) from mixing."""
    temperature_C: NDArray[np.float64]
    """(n,)"""
    alpha: NDArray[np.float64]
    """(n,) degree of cure [-]; NaN where there is no resin."""


@dataclass(frozen=True, eq=False)
class StageHistory:
    """One stage as it was solved."""

    kind: str
    """``mixed_mass``, ``wet_out``, ``held`` or ``after_release``."""
    time: NDArray[np.float64]
    """(n,) on the job's clock [s]."""
    radius: NDArray[np.float64]
    """(cells,) [m]; NaN for the mixed mass. In a section row by row, all columns of a row together."""
    face: NDArray[np.float64]
    """(cells + 1,) faces between the cells [m]; empty for the mixed mass; (rows + 1, columns) in a section."""
    layer: NDArray[np.str_]
    """(cells,) ``bladder``, ``liner``, ``pipe``, ``ground``, or ``mixed mass``; in a section also what fills gaps."""
    temperature: NDArray[np.float64]
    """(n, cells) [K]."""
    alpha: NDArray[np.float64]
    """(n, resin cells) degree of cure [-]; one column for the mixed mass."""
    steps: int
    energy_residual: float
    section: str
    """``around`` or ``along`` where the stage is in two dimensions, else empty."""
    edge: NDArray[np.float64]
    """(columns + 1,) edges of the columns [rad from the invert, clockwise, or m]; empty in one dimension."""
    resin: NDArray[np.intp]
    """(resin cells,) which cells cure."""

    @property
    def columns(self) -> int:
        """Columns side by side; 1 in one dimension."""
        return max(1, self.edge.size - 1)

    @property
    def position(self) -> NDArray[np.float64]:
        """(columns,) middle of each column [rad or m]; NaN in one dimension."""
        return 0.5 * (self.edge[1:] + self.edge[:-1]) if self.section else np.array([np.nan])

    @property
    def place(self) -> NDArray[np.str_]:
        """(cells,) the layer in whose place a cell is: a gap counts as what is missing there."""
        return np.array([FILLED.get(name, name) for name in self.layer])

    def all_alpha(self) -> NDArray[np.float64]:
        """(n, cells) degree of cure [-], NaN where there is no resin."""
        alpha = np.full(self.temperature.shape, np.nan)
        alpha[:, self.resin] = self.alpha
        return alpha

    @property
    def lumped(self) -> bool:
        """True for the mixed mass, which has one temperature."""
        return self.face.size == 0


@dataclass(frozen=True, eq=False)
class History:
    """All stages on one set of cells, inside to outside.

    Times repeat where a stage ends and the next begins. A layer that a stage does not have is NaN
    there. The mixed mass has one temperature and one degree of cure: every liner cell carries them.
    When no stage has a wall, there is one cell of layer ``mixed mass`` and its radius is NaN.
    With a section the cells are those of the section, row by row; a stage in one dimension stands in
    every column alike.
    """

    time: NDArray[np.float64]
    """(n,) from mixing [s]."""
    radius: NDArray[np.float64]
    """(m,) [m]."""
    layer: NDArray[np.str_]
    """(m,)"""
    stage: NDArray[np.str_]
    """(n,) kind of stage."""
    temperature: NDArray[np.float64]
    """(n, m) [K]."""
    alpha: NDArray[np.float64]
    """(n, liner cells) degree of cure [-]; NaN in a gap."""
    position: NDArray[np.float64]
    """(m,) of a section [rad from the invert, clockwise, or m]; NaN without one."""
    stages: tuple[StageHistory, ...]
    """The same stage by stage, each with the cells it has."""

    @classmethod
    def from_core(cls, result: _core.Result) -> History:
        """Samples the dense solution at the solver's steps, in one dimension also three points within each."""
        stages = tuple(_stage(s) for s in result.stages)
        resin_layer = "liner" if any("liner" in s.layer for s in stages) else MIXED_MASS
        names = LAYERS if resin_layer == "liner" else (MIXED_MASS,)
        radius, position, layer = [], [], []
        for name in names:
            having = max(stages, key=lambda s: np.count_nonzero(s.place == name))
            cells = np.flatnonzero(having.place == name)
            radius.append(having.radius[cells])
            position.append(having.position[cells % having.columns])
            layer += [name] * cells.size
        layers = np.array(layer)
        resin_cells = int(np.count_nonzero(layers == resin_layer))
        temperature, alpha = [], []
        for s in stages:
            T = np.full((s.time.size, layers.size), np.nan)
            a = np.broadcast_to(s.alpha, (s.time.size, resin_cells)) if s.lumped else None
            for name in names:
                here = layers == name
                if s.lumped:
                    T[:, here & (layers == resin_layer)] = s.temperature
                elif name in s.place:
                    cells = np.flatnonzero(s.place == name)
                    # What has one column stands in every column alike.
                    cells = np.repeat(cells, np.count_nonzero(here) // cells.size)
                    T[:, here] = s.temperature[:, cells]
                    if name == resin_layer:
                        a = s.all_alpha()[:, cells]
            assert a is not None
            temperature.append(T)
            alpha.append(a)
        return cls(
            time=np.concatenate([s.time for s in stages]),
            radius=np.concatenate(radius),
            layer=layers,
            stage=np.concatenate([np.full(s.time.size, s.kind) for s in stages]),
            temperature=np.concatenate(temperature),
            alpha=np.concatenate(alpha),
            position=np.concatenate(position),
            stages=stages,
        )


def _stage(s: _core.StageHistory) -> StageHistory:
    times = s.times(0 if s.section else POINTS_WITHIN_STEP)
    # A section has many cells: the solver's own states, where they stand.
    temperature, alpha = (s.temperatures, s.alphas) if s.section else s.sample(times)
    lumped = s.radius.size == 0
    return StageHistory(
        kind=s.kind,
        time=s.start + times,
        radius=np.array([np.nan]) if lumped else s.radius,
        face=s.face.reshape(-1, s.edge.size - 1) if s.section else s.face,
        layer=np.array(s.layers),
        temperature=temperature,
        alpha=alpha,
        steps=s.steps,
        energy_residual=s.energy_residual,
        section=s.section,
        edge=s.edge,
        resin=np.array(s.resin_cells, dtype=np.intp),
    )
