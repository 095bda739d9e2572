"""Jobs as they really go, for trials of ``follow``: another solver on the documents, and a probe with its faults.

Nothing here comes from libcure: the physics is that of ``independent_wall.py`` on a mesh of its own, the release is read
at the faces of the liner. Draws are fixed by their seed.
"""

from __future__ import annotations

import copy
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import independent_wall as other
import numpy as np
from scipy.integrate import solve_ivp

ZERO = 273.15
FAR = 2.5  # m, where the ground keeps its temperature
# The release by mechanics, for loads that stay two hours: alpha_gel + 0.05, and Tg - T >= log10(7200/100) / (C1/C2/2),
# with C1 = 17.44, C2 = 51.6 K (Williams, Landel, Ferry, J. Am. Chem. Soc. 77, 3701, 1955; from memory). The loads of
# the jobs here ask for less.
PAST_GEL = 0.05
MARGIN = np.log10(72.0) / (17.44 / 51.6 / 2.0)
PLATEAU_SD = 0.0186
"""Of the degree of cure at which diffusion stops the demo resins with their Tg known: some 3 K, by their covariance."""


def warm(document: dict[str, Any]) -> dict[str, Any]:
    """The same job with a slower hardener and warm water in the bladder."""
    document = copy.deepcopy(document) | {"resin": "epoxy-amine-medium"}
    document["stages"][2] |= {"fill_temperature_C": 30, "h_W_m2K": 300}
    return document


@dataclass(frozen=True)
class Job:
    """How a job differs from its case document; all as it really is."""

    document: dict[str, Any] = field(repr=False)
    rate: float = 1.0
    plateau: float = 0.0
    """Shift of the degree of cure at which diffusion stops the resin."""
    heat: float = 1.0
    contact: float = 1.0
    ground: float = 0.0
    """[K]"""
    resin: float = 0.0
    """At mixing [K]."""
    air: float = 0.0
    """Air, packer, fibre and fill [K]."""
    thickness: float = 1.0
    probe: float = 0.0
    """Reads too high by this [K]."""
    lag: float = 0.0
    """[s]"""
    clock: float = 0.0
    """The logger is ahead by this [s]."""
    drift: float = 0.0
    """The logger's clock is fast by this share."""
    seed: int = 0

    @property
    def temperatures(self) -> dict[str, float]:
        T = {name: t + ZERO for name, t in self.document["initial_temperature_C"].items()}
        for name in ("air", "packer", "fibre"):
            T[name] += self.air
        T["resin"] += self.resin
        T["pipe"] += self.ground
        T["ground"] = self.document["ground"]["temperature_C"] + ZERO + self.ground
        T["fill"] = self.document["stages"][2]["fill_temperature_C"] + ZERO + self.air
        return T

    @cached_property
    def model(self) -> dict[str, Any]:
        resin = copy.deepcopy(other.model("resins", self.document["resin"]))
        for k in ("k1", "k2"):
            resin["rate"][k]["k_ref"]["value"] *= self.rate
        resin["diffusion"]["alpha_c0"]["value"] += self.plateau
        resin["heat_of_reaction"]["value"] *= self.heat
        return resin

    @cached_property
    def solution(self) -> tuple[float, np.ndarray, Any]:
        """When the liner is held from [s], radii of its cells' middles and faces [m], and the held stage."""
        d, T, resin = self.document, self.temperatures, self.model
        pot, wet, held = d["stages"][:3]
        fibre, v = other.model("materials", "e-glass"), d["liner"]["fibre_volume_fraction"]
        outer = d["pipe"]["inner_diameter_mm"] / 2e3
        thick = d["liner"]["thickness_mm"] / 1e3
        rho, c, H = (other.si(resin[name]) for name in ("density", "specific_heat", "heat_of_reaction"))
        # The mass mixed is the case's, whatever the liner then came to.
        mass = np.pi * (outer**2 - (outer - thick) ** 2) * d["liner"]["length_mm"] / 1e3 * (1 - v) * rho
        hA = pot["h_W_m2K"] * 2 * mass / rho / 0.02

        def lumped(_t: float, y: np.ndarray) -> list[float]:
            rate = other.cure_rate(resin, y[0], y[1])
            return [(mass * H * rate - hA * (y[0] - T["air"])) / (mass * c), rate]

        y = solve(lumped, [T["resin"], other.si(resin["initial_degree_of_cure"])], 60.0 * pot["duration_min"])
        hot, alpha = y.y[:, -1]
        mix = other.laminate(resin, fibre, v)
        contact = {name: self.contact * value for name, value in d["contact_resistance_m2K_W"].items()}
        layers = {
            "bladder": other.solid(other.model("materials", d["bladder"]["material"]), contact["bladder_liner"]),
            "liner": other.Layer(mix.k, mix.rho_c, contact["liner_pipe"]),
            "pipe": other.solid(other.model("materials", d["pipe"]["material"]), contact["pipe_ground"]),
            "ground": other.solid(other.model("grounds", d["ground"]["material"])),
        }
        thick *= self.thickness
        bladder, bore = d["bladder"]["thickness_mm"] / 1e3, outer - thick
        pipe = outer + d["pipe"]["wall_mm"] / 1e3
        parts = {
            "bladder": np.linspace(bore - bladder, bore, 7),
            "liner": np.linspace(bore, outer, 13),
            "pipe": np.linspace(outer, pipe, 7),
            "ground": pipe + (FAR - pipe) * np.expm1(np.linspace(0.0, 6.0, 31)) / np.expm1(6.0),
        }
        capacity = (1 - v) * rho * c, v * other.si(fibre["density"]) * other.si(fibre["specific_heat"])
        mixed = (capacity[0] * hot + capacity[1] * T["fibre"]) / sum(capacity)
        state = {"bladder": T["packer"], "liner": mixed, "pipe": T["pipe"], "ground": T["ground"], "alpha": alpha}
        inner = held["h_W_m2K"], T["fill"], 0.0
        for stage, names, loads in (
            (wet, ("bladder", "liner"), (None, (wet["h_W_m2K"], T["air"], 0.0))),
            (held, tuple(parts), (inner, (np.inf, T["ground"], 0.0))),
        ):
            owner = [name for name in names for _ in parts[name][1:]]
            face = np.concatenate([parts[names[0]][:1], *(parts[name][1:] for name in names)])
            wall = other.Wall(face, owner, layers, resin, (1 - v) * rho * H)
            cells = [np.broadcast_to(state[name], parts[name].size - 1) for name in names]
            start = np.concatenate([*cells, np.broadcast_to(state["alpha"], parts["liner"].size - 1)])
            y = solve(wall.slope(*loads), start, 60.0 * stage["duration_min"])
            for name in names:
                state[name] = y.y[: len(owner), -1][np.array(owner) == name]
            state["alpha"] = y.y[len(owner) :, -1]
        begin = 60.0 * (pot["duration_min"] + wet["duration_min"])
        return begin, np.array(owner) == "liner", y

    @cached_property
    def release_min(self) -> float:
        """When the last of the liner may be let go, by mechanics, for good, at cells and faces; infinite: not while held."""
        begin, liner, y = self.solution
        t = np.unique(np.concatenate([np.arange(0.0, min(y.t[-1], 36000.0), 15.0), np.arange(36000.0, y.t[-1], 120.0)]))
        states = y.sol(t)
        T, alpha = faces(states[: liner.size][liner]), faces(states[liner.size :])
        g = {name: other.si(self.model["glass_transition"][name]) for name in ("Tg0", "Tg_inf", "lambda")}
        Tg = g["Tg0"] + (g["Tg_inf"] - g["Tg0"]) * g["lambda"] * alpha / (1.0 - (1.0 - g["lambda"]) * alpha)
        ready = ((alpha >= other.si(self.model["gel"]["alpha_gel"]) + PAST_GEL) & (Tg >= T + MARGIN)).all(axis=0)
        late = np.flatnonzero(~ready)
        first = late[-1] + 1 if late.size else 0
        return float((begin + t[first]) / 60.0) if first < t.size else np.inf

    def log(self, until_min: float, *, from_min: float = 16.5, off_min: float | None = None) -> tuple[np.ndarray, np.ndarray]:
        """Times [min] and temperatures [°C] of a probe at the outer face, as a logger shows them.

        Args:
            off_min: when the probe comes off the wall and shows the fill.
        """
        random = np.random.default_rng(self.seed)
        begin, liner, y = self.solution
        shown = np.arange(from_min, until_min, 1.0)
        true = (60.0 * shown - self.clock) / (1.0 + self.drift)
        steps = np.arange(0.0, true[-1] + 5.0, 5.0)
        wall = faces(y.sol(np.clip(steps - begin, 0.0, y.t[-1]))[: liner.size][liner])[-1]
        if off_min is not None:
            wall = np.where(steps >= 60.0 * off_min, self.temperatures["fill"], wall)
        if self.lag or off_min is not None:
            follow = -np.expm1(-5.0 / max(self.lag, 60.0 if off_min is not None else 0.0))
            for i in range(1, wall.size):
                wall[i] = wall[i - 1] + follow * (wall[i] - wall[i - 1])
        T = np.interp(true, steps, wall) - ZERO + self.probe + 0.3 * random.normal(size=true.size)
        return shown, np.round(T, 1)


def solve(slope: Any, start: Any, end: float) -> Any:
    found = solve_ivp(slope, (0.0, end), start, "BDF", rtol=1e-5, atol=1e-6, dense_output=True)
    assert found.success, found.message
    return found


def faces(cells: np.ndarray) -> np.ndarray:
    """Values of equal cells (cells, n), with those of both faces on the straight line through the next two."""
    return np.concatenate([1.5 * cells[:1] - 0.5 * cells[1:2], cells, 1.5 * cells[-1:] - 0.5 * cells[-2:-1]])


def drawn(document: dict[str, Any], seed: int) -> Job:
    """A job with everything off: as far as the ranges of predict say, and a probe as far as follow assumes."""
    random = np.random.default_rng(seed)
    n, u = random.standard_normal(8), random.uniform(-1.0, 1.0, 2)
    return Job(
        document, rate=np.exp(0.12 * n[0]), plateau=PLATEAU_SD * n[1], heat=np.exp(0.05 * n[2]), contact=np.exp(0.7 * n[3]),
        ground=n[4], resin=2.0 * u[0], air=3.0 * u[1], thickness=1.0 + 0.05 * n[5], probe=n[6], lag=30.0,
        clock=60.0 * n[7], drift=0.01 * random.standard_normal(), seed=seed,
    )  # fmt: skip
