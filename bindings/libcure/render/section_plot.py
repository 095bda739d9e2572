"""The picture of a prediction in two dimensions: curves at a few places, the cure of every place
over time, and the section itself at the moment that decides the release."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import QuadMesh
from numpy.typing import NDArray

from libcure.render import plot
from libcure.render.plot import INK, ORANGE, PURPLE, RED, SKY, ZERO_CELSIUS, Picture, VerdictFigure, beside
from libcure.words.rounding import duration

if TYPE_CHECKING:
    from libcure.history import StageHistory
    from libcure.result import Prediction

__all__ = ["SectionPicture", "draw"]

Floats = NDArray[np.float64]

TURN = 2.0 * np.pi
STYLES = ((RED, "-"), (ORANGE, "--"), (PURPLE, ":"))


def draw(prediction: Prediction) -> VerdictFigure:
    """Draws a prediction, in one dimension or two."""
    with plot.style():
        in_section = any(s.section for s in prediction.history.stages)
        return (SectionPicture if in_section else Picture)(prediction).figure


class SectionPicture(Picture):
    """Around the pipe or along it."""

    extra = 3.9  # [inch]

    def __init__(self, prediction: Prediction) -> None:
        stages = [s for s in prediction.history.stages if s.section]
        self.sections = stages
        self.around = stages[0].section == "around"
        # Half a pipe stands for all of it.
        self.mirrored = self.around and stages[0].edge[-1] < 0.75 * TURN
        document = prediction.case.document
        self.bore = 0.5 * document["pipe"]["inner_diameter_mm"]
        self.water = document["section"].get("water")
        self.places = self._places(prediction)
        super().__init__(prediction)

    def _places(self, prediction: Prediction) -> list[tuple[str, int]]:
        """Up to three places with curves of their own: name, and column."""
        s = self.sections[0]
        if self.around:
            wanted = {"invert, 6 o'clock": 0.0, "9 o'clock": 0.25 * TURN, "crown, 12 o'clock": 0.5 * TURN}
        else:
            v = prediction.verdict
            points = {"hottest": v["peak"], "last ready": v["limiting"].get("release")}
            wanted = {
                f"{name}, {p['position_mm']:.0f} mm": 1e-3 * p["position_mm"]
                for name, p in points.items()
                if p is not None and "position_mm" in p
            }
            wanted[f"end, {1e3 * s.position[-1]:.0f} mm"] = float(s.position[-1])
        bare = [j for j in range(s.columns) if not np.any(s.resin % s.columns == j)]
        places: dict[int, str] = {}
        for name, at in wanted.items():
            distance = np.abs(s.position - at)
            distance[bare] = np.inf
            places.setdefault(int(np.argmin(distance)), name)
        return [(name, column) for column, name in places.items()]

    # The panels over time

    def _temperatures(self, axes: Axes) -> None:
        for s in self.history.stages:
            if s.lumped:
                axes.plot(s.time / 60.0, s.temperature[:, 0] - ZERO_CELSIUS, color=RED, ls=(0, (5, 1, 1, 1)), lw=2.2,
                          label="resin in the bucket")
        for (name, column), (color, style) in zip(self.places, STYLES, strict=False):
            times, values = [], []
            for s in self.walls:
                cells = np.flatnonzero(s.place == "liner").reshape(-1, s.columns)
                times.append(s.time)
                values.append(s.temperature[:, cells[cells.shape[0] // 2, column if s.section else 0]])
            axes.plot(np.concatenate(times) / 60.0, np.concatenate(values) - ZERO_CELSIUS, color=color, ls=style,
                      label=f"liner, {name}")
        axes.set_ylabel("Temperature in mid-liner (°C)")
        axes.margins(y=0.06)
        beside(axes)

    def _cure(self, axes: Axes) -> None:
        for (name, column), (color, style) in zip(self.places, STYLES, strict=False):
            least = [_least_cured(s)[:, column if s.section else 0] for s in self.history.stages]
            axes.plot(self.history.time / 60.0, np.concatenate(least), color=color, ls=style, label=name)
        axes.set_ylim(0.0, 1.03)
        axes.set_ylabel("Least α through the liner (–)")
        for name, level, style in self._levels():
            axes.axhline(level, color=INK, lw=0.9, ls=style, zorder=1, label=f"{name} {level:.2f}")
        beside(axes)

    def _levels(self) -> list[tuple[str, float, str]]:
        return [("gel point", self.alpha_gel, "-"), *self.needed_cure()]

    def _map(self, axes: Axes) -> None:
        """Least degree of cure through the liner, by place and time."""
        mesh = None
        scale = 1e3 if not self.around else 12.0 / TURN
        for s in self.sections:
            t = s.time / 60.0
            edges = np.concatenate([t[:1], 0.5 * (t[1:] + t[:-1]), t[-1:]])
            mesh = axes.pcolormesh(edges, scale * s.edge, _least_cured(s).T, cmap="viridis", vmin=0.0, vmax=1.0,
                                   shading="flat", rasterized=True)
        axes.set_facecolor("#e9e9e9")
        edge = scale * self.sections[0].edge
        axes.set_ylim(edge[0], edge[-1])
        if self.around:
            hours = np.arange(0.0, edge[-1] + 0.1, 1.0 if self.mirrored else 3.0)
            names = [_clock(h, self.mirrored) for h in hours]
            axes.set_yticks(hours, names, fontsize=7.5)
            axes.set_ylabel("Clock position")
        else:
            axes.set_ylabel("Along the liner (mm)")
        axes.spines[["top", "right"]].set_visible(True)
        if mesh is not None:
            self._bar(axes, mesh, "least α")

    def _bar(self, axes: Axes, mesh: QuadMesh, label: str, gap: float = 0.8) -> None:
        box = axes.get_position()
        bar = self.figure.add_axes((box.x1 + gap / self.width, box.y0, 0.12 / self.width, box.height))
        self.figure.colorbar(mesh, cax=bar, label=label)

    # The section itself

    def _below(self) -> None:
        point = self.verdict["limiting"].get("release") or self.verdict["peak"]
        stage = next((s for s in self.sections if s.time[0] <= 60.0 * point["time_min"] <= s.time[-1]), self.sections[0])
        instant = int(np.argmin(np.abs(stage.time / 60.0 - point["time_min"])))
        height = float(self.figure.get_figheight())
        when = duration(point["time_min"], up=True).partition(" (")[0]
        what = "release is decided" if "release" in self.verdict["limiting"] else "the resin is hottest"
        self.figure.text(0.12 / self.width, (self.extra - 0.12) / height,
                         f"The section at {when}, when {what} (circle: the deciding point)", fontsize=9.0,
                         fontweight="bold", va="top")
        temperature = stage.temperature[instant].reshape(-1, stage.columns) - ZERO_CELSIUS
        alpha = stage.all_alpha()[instant].reshape(-1, stage.columns)
        for k, (values, label, colors) in enumerate(((temperature, "°C", "inferno"), (alpha, "α", "viridis"))):
            left = (0.75 + 4.75 * k) / self.width
            size = (3.2 if self.around else 3.6) / self.width
            axes = self.figure.add_axes((left, 0.5 / height, size, (self.extra - 0.95) / height))
            mesh = self._draw_section(axes, stage, values, colors)
            self._mark_point(axes, point)
            self._bar(axes, mesh, label, 0.15)

    def _draw_section(self, axes: Axes, stage: StageHistory, values: Floats, colors: str) -> QuadMesh:
        """Bladder, liner and pipe; the liner's faces are outlined."""
        rows = np.flatnonzero((stage.place != "ground").reshape(-1, stage.columns)[:, 0])
        face = 1e3 * stage.face[: rows[-1] + 2]
        # Faces are known in mid-column; at the columns' edges they are the mean of both.
        ends = (face[:, -1:], face[:, :1]) if self.around and not self.mirrored else (face[:, :1], face[:, -1:])
        padded = np.concatenate([ends[0], face, ends[1]], axis=1)
        r = 0.5 * (padded[:, 1:] + padded[:, :-1])
        position = np.broadcast_to(stage.edge, r.shape)
        shown = values[rows]
        if self.mirrored:
            r = np.concatenate([r, r[:, -2::-1]], axis=1)
            position = np.concatenate([position, TURN - position[:, -2::-1]], axis=1)
            shown = np.concatenate([shown, shown[:, ::-1]], axis=1)
        x, y = (-r * np.sin(position), -r * np.cos(position)) if self.around else (1e3 * position, r)
        mesh = axes.pcolormesh(x, y, shown, cmap=colors, shading="flat", rasterized=True)
        liner = np.flatnonzero((stage.place == "liner").reshape(-1, stage.columns)[:, 0])
        for i in (liner[0], liner[-1] + 1):
            axes.plot(x[i], y[i], color="white", lw=1.4)
            axes.plot(x[i], y[i], color=INK, lw=0.7)
        axes.spines[["top", "right"]].set_visible(True)
        if self.around:
            axes.set_aspect("equal")
            axes.set_xlabel("mm, looking along the pipe")
            if self.water is not None:
                level = self.water["depth_mm"] - self.bore
                if abs(level) < self.bore:
                    half = float(np.sqrt(self.bore**2 - level**2))
                    axes.plot([-half, half], [level, level], color=SKY, lw=1.6)
                    axes.text(0.0, level, "water level before", color="#1f6f9f", fontsize=7.5, ha="center",
                              va="bottom")
        else:
            axes.set_xlabel("along the liner (mm)")
            axes.set_ylabel("radius (mm)")
        return mesh

    def _mark_point(self, axes: Axes, point: dict[str, object]) -> None:
        r = point["radius_mm"]
        if not isinstance(r, float) or not {"clock", "position_mm"} & point.keys():
            return
        if self.around:
            angle = np.deg2rad(float(str(point["angle_deg"])))
            angles = np.array([angle, -angle] if self.mirrored else [angle])
            x, y = -r * np.sin(angles), -r * np.cos(angles)
        else:
            x, y = np.array([float(str(point["position_mm"]))]), np.array([r])
        axes.plot(x, y, ls="", marker="o", mfc="none", mec="white", ms=9, mew=2.6)
        axes.plot(x, y, ls="", marker="o", mfc="none", mec=INK, ms=9, mew=1.2)


def _least_cured(s: StageHistory) -> Floats:
    """(n, columns) least degree of cure through the liner; NaN where there is no resin."""
    if s.lumped:
        return s.alpha
    alpha = s.all_alpha()[:, s.place == "liner"]
    by_row = alpha.reshape(alpha.shape[0], -1, s.columns)
    least: Floats = np.min(by_row, axis=1)
    return least


def _clock(hours_from_invert: float, mirrored: bool) -> str:
    hour = round(hours_from_invert + 5) % 12 + 1
    other = round(5 - hours_from_invert) % 12 + 1
    return f"{hour}" if not mirrored or hour == other else f"{min(hour, other)}, {max(hour, other)}"
