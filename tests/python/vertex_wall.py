"""Heat and cure in the wall on vertices: nodes stand on the faces of the layers, where the resin is coldest or hottest.

Method of lines for SciPy's LSODA. Nothing here comes from the library: layers, rates and criteria are read from the
documents. Linear conduction in a cylinder between nodes, capacity lumped at them; equal cells in bladder, liner and
pipe, growing ones in the ground.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from independent_wall import Layer, R, arrhenius, laminate, model, si, solid
from scipy.integrate import solve_ivp

NODES = {"bladder": 16, "liner": 48, "pipe": 16, "ground": 60}
KELVIN = 273.15


def rate_of(resin: dict[str, Any]) -> Callable[[Any, Any], Any]:
    """d(alpha)/dt of autocatalytic and Kamal-Sourour laws with and without Chern-Poehlein diffusion control [1/s]."""
    law, d = resin["rate"], resin.get("diffusion", {"form": "none"})

    def rate(T: Any, alpha: Any) -> Any:
        power = np.clip(alpha, 0, None) ** si(law["m"])
        if law["law"] == "autocatalytic":
            chemical = arrhenius(law["k"], T) * power
        else:
            assert law["law"] == "kamal-sourour"
            chemical = arrhenius(law["k1"], T) + arrhenius(law["k2"], T) * power
        chemical = chemical * np.clip(1 - alpha, 0, None) ** si(law["n"])
        if d["form"] == "none":
            return chemical
        assert d["form"] == "chern-poehlein"
        critical = si(d["alpha_c0"]) + si(d["alpha_cT"]) * T
        return chemical / (1 + np.exp(np.clip(si(d["C"]) * (alpha - critical), None, 700)))

    return rate


@dataclass
class Criteria:
    """Negative before, not negative after, at T [K] and alpha of any shape."""

    resin: dict[str, Any]
    release: dict[str, Any]

    def Tg(self, alpha: Any) -> Any:
        g = self.resin["glass_transition"]
        low, high, curve = si(g["Tg0"]), si(g["Tg_inf"]), si(g["lambda"])
        return low + (high - low) * curve * alpha / (1 - (1 - curve) * alpha)

    def gelled(self, T: Any, alpha: Any) -> Any:
        return alpha - si(self.resin["gel"]["alpha_gel"])

    def worked(self, T: Any, alpha: Any) -> Any:
        limit, gel = self.resin["working_limit"], si(self.resin["gel"]["alpha_gel"])
        if "viscosity" not in limit:
            return alpha - gel * si(limit["fraction_of_gel"])
        v = self.resin["viscosity"]
        liquid = np.clip(alpha, 0, gel * (1 - 1e-9))
        log = np.log(v["eta0"]["value"]) + si(v["E"]) / (R * T)
        log = log + (si(v["A"]) + si(v["B"]) * liquid) * np.log(gel / (gel - liquid))
        return log - np.log(limit["viscosity"]["value"])

    def released(self, T: Any, alpha: Any) -> Any:
        return np.minimum(alpha - self.release["alpha_min"], 0.01 * (self.Tg(alpha) - T - self.release["Tg_margin_K"]))


def release_of(case: dict[str, Any], resin: dict[str, Any]) -> dict[str, float]:
    """Requirements of a liner in a dry drain, written down again: past gel, and so glassy that it relaxes in two hours."""
    if "alpha_min" in case.get("release", {}):
        return case["release"]
    creep = np.log10(7200.0 / 100.0) / (17.44 / 51.6 / 2.0)
    return {"alpha_min": si(resin["gel"]["alpha_gel"]) + 0.05, "Tg_margin_K": creep}


class Body:
    """Layers on nodes; where two of them touch without resistance they share one."""

    def __init__(self, names: list[str], layers: dict[str, Layer], faces: dict[str, tuple[float, float]]) -> None:
        radius: list[float] = []
        self.at: dict[str, slice] = {}
        self.capacity: dict[str, Any] = {}
        C: list[float] = []
        G: list[float] = []
        volume = np.zeros(0)
        contact = 0.0
        for name in names:
            a, b = faces[name]
            s = np.linspace(0, 1, NODES[name] + 1)
            r = a + (b - a) * (s if name != "ground" else np.expm1(5.0 * s) / np.expm1(5.0))
            r[0], r[-1] = a, b
            middle = np.concatenate([[a], (r[1:] + r[:-1]) / 2, [b]])
            share = np.pi * np.diff(middle**2)
            shared = bool(radius) and contact == 0.0
            if radius and not shared:
                G.append(2 * np.pi * a / contact)
            first = len(radius) - shared
            capacity = layers[name].rho_c * share
            self.capacity[name] = capacity
            if shared:
                C[-1] += capacity[0]
            C += list(capacity[shared:])
            radius += list(r[shared:])
            G += list(2 * np.pi * layers[name].k / np.log(r[1:] / r[:-1]))
            self.at[name] = slice(first, len(radius))
            if name == "liner":
                volume = share
            contact = layers[name].contact
        self.C, self.G, self.volume = np.array(C), np.array(G), volume
        self.area = 2 * np.pi * radius[0], 2 * np.pi * radius[-1]

    def blend(self, T: dict[str, Any]) -> Any:
        """Temperatures of the nodes when the layers meet; a shared one by their capacities."""
        heat = np.zeros(len(self.C))
        for name, capacity in self.capacity.items():
            heat[self.at[name]] += capacity * T[name]
        return heat / self.C

    def solve(self, T: Any, alpha: Any, rate: Any, heat: float, inner: Any, outer: Any, times: Any) -> tuple[Any, Any]:
        """Temperatures (nodes, times) and cure of the liner; inner and outer are (h, T), T alone is held, None insulates."""
        n, liner = len(self.C), self.at["liner"]
        S = heat * self.volume

        def f(_t: float, y: Any) -> Any:
            pairs = y.reshape(n, 2)
            T = pairs[:, 0]
            slope = np.zeros((n, 2))
            slope[liner, 1] = rate(T[liner], pairs[liner, 1])
            flow = self.G * np.diff(T)
            slope[:-1, 0] += flow
            slope[1:, 0] -= flow
            for i, load in ((0, inner), (-1, outer)):
                if isinstance(load, tuple):
                    slope[i, 0] += load[0] * self.area[i] * (load[1] - T[i])
            slope[liner, 0] += S * slope[liner, 1]
            slope[:, 0] /= self.C
            if isinstance(outer, float):
                slope[-1, 0] = 0.0
            return slope.ravel()

        y = np.zeros((n, 2))
        y[:, 0], y[liner, 1] = T, alpha
        found = solve_ivp(f, (0, times[-1]), y.ravel(), "LSODA", times, rtol=1e-6, atol=1e-7, lband=2, uband=2)
        assert found.success, found.message
        out = found.y.reshape(n, 2, -1)
        return out[:, 0], out[liner, 1]


def times_of(case: dict[str, Any], ground_radius: float) -> dict[str, float]:
    """Working time, first and last gel, release [min from mixing] of a case of constant surroundings; inf: never.

    `case` is a document with pouch, wet-out and hold, `ground_radius` [m] where the ground ends.
    """
    resin = model("resins", case["resin"])
    rate, criteria = rate_of(resin), Criteria(resin, release_of(case, resin))
    layers, faces, heat, fibre = _wall(case, resin, ground_radius)
    start = {k: v + KELVIN for k, v in case["initial_temperature_C"].items()}
    T_ground = case["ground"]["temperature_C"] + KELVIN
    pot, wet, held = case["stages"][:3]
    density, c = si(resin["density"]), si(resin["specific_heat"])

    def pouch(_t: float, y: Any) -> Any:
        speed = rate(y[0], y[1])
        # A flat pouch 20 mm thick, both sides in the air.
        loss = pot["h_W_m2K"] * 2 / 0.02 / density * (y[0] - pot["ambient_temperature_C"] - KELVIN)
        return [(si(resin["heat_of_reaction"]) * speed - loss) / c, speed]

    watch = _Watch(criteria)
    times = np.linspace(0, 60 * pot["duration_min"], 400)
    y0 = [start["resin"], si(resin["initial_degree_of_cure"])]
    y = solve_ivp(pouch, (0, times[-1]), y0, "LSODA", times, rtol=1e-9, atol=1e-9).y
    watch.look(times, y[:1], y[1:], False)

    share = (1 - case["liner"]["fibre_volume_fraction"]) * density * c
    mixed = (share * y[0, -1] + fibre * start["fibre"]) / (share + fibre)
    now = {"bladder": start["packer"], "liner": mixed, "pipe": start["pipe"], "ground": T_ground}
    alpha: Any = y[1, -1]
    surroundings = {
        "wet_out": (["bladder", "liner"], None, (wet["h_W_m2K"], wet["ambient_temperature_C"] + KELVIN), wet),
        "held": (list(NODES), (held["h_W_m2K"], held["fill_temperature_C"] + KELVIN), T_ground, held),
    }
    T_before: dict[str, Any] = now
    for kind, (names, inner, outer, stage) in surroundings.items():
        body = Body(names, layers, faces)
        T = body.blend({name: T_before[name] for name in names})
        end = 60 * stage["duration_min"]
        times = np.concatenate([[0], np.geomspace(1, end, 3000)]) if kind == "held" else np.linspace(0, end, 600)
        T_all, alpha_all = body.solve(T, alpha, rate, heat, inner, outer, times)
        watch.look(times, T_all[body.at["liner"]], alpha_all, kind == "held")
        T_before = {**T_before, **{name: T_all[body.at[name], -1] for name in names}}
        alpha = alpha_all[:, -1]
    return watch.minutes


def _wall(
    case: dict[str, Any], resin: dict[str, Any], ground_radius: float
) -> tuple[dict[str, Layer], dict[str, tuple[float, float]], float, float]:
    """Layers, their radii [m], heat of full cure of the laminate [J/m3], heat capacity of its fibre [J/(m3 K)]."""
    contact = {"bladder_liner": 0.0, "liner_pipe": 0.001, "pipe_ground": 0.0, **case.get("contact_resistance_m2K_W", {})}
    fibre, v = model("materials", "e-glass"), case["liner"]["fibre_volume_fraction"]
    mix = laminate(resin, fibre, v)
    layers = {
        "bladder": solid(model("materials", case["bladder"]["material"]), contact["bladder_liner"]),
        "liner": Layer(mix.k, mix.rho_c, contact["liner_pipe"]),
        "pipe": solid(model("materials", case["pipe"]["material"]), contact["pipe_ground"]),
        "ground": solid(model("grounds", case["ground"]["material"])),
    }
    r = case["pipe"]["inner_diameter_mm"] / 2e3
    bore = r - case["liner"]["thickness_mm"] / 1e3
    outside = r + case["pipe"]["wall_mm"] / 1e3
    faces = {
        "bladder": (bore - case["bladder"]["thickness_mm"] / 1e3, bore), "liner": (bore, r), "pipe": (r, outside),
        "ground": (outside, ground_radius),
    }  # fmt: skip
    heat = (1 - v) * si(resin["density"]) * si(resin["heat_of_reaction"])
    return layers, faces, heat, v * si(fibre["density"]) * si(fibre["specific_heat"])


class _Watch:
    """Times at which criteria are met, read in straight lines between the asked times."""

    def __init__(self, criteria: Criteria) -> None:
        self.criteria, self.clock = criteria, 0.0
        self.minutes = dict.fromkeys(("working", "gel_first", "gel_last", "release"), np.inf)

    def look(self, times: Any, T: Any, alpha: Any, held: bool) -> None:
        c = self.criteria
        worked, gel = c.worked(T, alpha).max(0), c.gelled(T, alpha)
        for name, g in (("working", worked), ("gel_first", gel.max(0)), ("gel_last", gel.min(0))):
            if not np.isfinite(self.minutes[name]) and (g >= 0).any():
                self._keep(name, times, g, int(np.argmax(g >= 0)))
        g = c.released(T, alpha).min(0)
        if held and g[-1] >= 0:
            self._keep("release", times, g, len(g) - int(np.argmax(g[::-1] < 0)))
        self.clock += times[-1]

    def _keep(self, name: str, times: Any, g: Any, i: int) -> None:
        t = times[i] if i == 0 else times[i - 1] + (times[i] - times[i - 1]) * g[i - 1] / (g[i - 1] - g[i])
        self.minutes[name] = (self.clock + t) / 60.0
