"""The compiled part: conversion, the GIL and exceptions only. SI units throughout."""

import os
from collections.abc import Mapping, Sequence
from pathlib import Path as _FilePath
from threading import Event
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

_Path: TypeAlias = str | os.PathLike[str]
_Array: TypeAlias = NDArray[np.float64]

__version__: str

class CureError(ValueError):
    """Bad input, or a run that stopped. The message is one readable line."""

    field: str
    """Path of the value; only when input was refused."""
    value: str
    allowed: str
    file: str
    time_reached_s: float
    """[s]; only when a run stopped."""

class Resin:
    """A resin model in SI units."""

    _made: tuple[Any, ...]
    """What makes it again, for pickles; absent from draws of the core."""
    @property
    def id(self) -> str: ...
    @property
    def title(self) -> str: ...
    @property
    def estimated(self) -> bool: ...
    @property
    def transcribed(self) -> bool: ...
    @property
    def initial_degree_of_cure(self) -> float: ...
    @property
    def alpha_gel(self) -> float: ...
    @property
    def heat_of_reaction(self) -> float:
        """[J/kg]"""
    @property
    def specific_heat(self) -> float:
        """[J/(kg K)]"""
    @property
    def density(self) -> float:
        """[kg/m3]"""
    @property
    def temperature_min(self) -> float:
        """Lower end of the model's validity [K]."""
    @property
    def temperature_max(self) -> float:
        """Upper end of the model's validity [K]."""
    @property
    def Tg_margin_max(self) -> float:
        """Largest Tg - T [K] at which there is evidence that it still cures as its law says; infinite with diffusion control."""
    @property
    def alpha_max(self) -> float:
        """Degree of cure up to which the model is valid [-]."""
    @property
    def shrinkage(self) -> float:
        """Of the volume, of the full cure [-]; 0 where the model states none."""
    @property
    def not_measured(self) -> str:
        """What was taken from the family, in words; empty when nothing was."""
    @property
    def verified(self) -> tuple[float, float] | None:
        """Temperatures [K] between which what was held back came out as foretold."""
    def rate(self, temperature: ArrayLike, alpha: ArrayLike, /) -> _Array:
        """Cure rate [1/s] at temperatures [K] and degrees of cure of one shape."""
    def viscosity(self, temperature: ArrayLike, alpha: ArrayLike, /) -> _Array:
        """Viscosity [Pa s]; infinite from the gel point on. Raises CureError without such a law."""
    def glass_transition(self, alpha: ArrayLike, /) -> _Array:
        """Glass transition temperature [K]."""
    def isothermal(self, temperatures: ArrayLike, times: ArrayLike, alpha0: float, /) -> _Array:
        """Degree of cure (temperatures, times) [-] at temperatures [K] and times [s] from alpha0."""
    def along(self, points: ArrayLike, temperature: ArrayLike, times: ArrayLike, alpha0: float, /) -> _Array:
        """Degree of cure (histories, times) [-] along temperatures (histories, points) [K]."""
    def ramp(self, rates: ArrayLike, temperature: ArrayLike, alpha0: float, /) -> tuple[_Array, _Array]:
        """Degree of cure [-] and its rate [1/s], each (rates, temperatures), at heating rates [K/s]."""
    def lumped(
        self, start: ArrayLike, mass: float, area: float, h: float, ambient: float, times: ArrayLike, alpha0: float, /
    ) -> tuple[_Array, _Array]:
        """Temperature [K] and degree of cure [-], each (masses, times), of self-heating masses."""
    def modulus(self, T: ArrayLike, alpha: ArrayLike, /) -> _Array:
        """Modulus [Pa]. Raises CureError without such a law."""

class Case:
    @property
    def title(self) -> str: ...
    @property
    def resin(self) -> Resin: ...
    @property
    def defaults(self) -> list[str]: ...
    @property
    def conditions_json(self) -> str: ...
    @property
    def facts(self) -> list[tuple[str, str]]:
        """What ground and surfaces came to before any run, in words, each with its heading."""
    @property
    def planned_hold(self) -> tuple[float, float] | None:
        """When the liner is held from, and to when its hold is planned to last [s from mixing]."""
    @property
    def section_words(self) -> str:
        """What differs in its section; empty without one."""
    @property
    def liner_points(self) -> int: ...

def position_name(cell: int, count: int, /) -> str:
    """Where among `count` cells from the inner to the outer face one lies, in words."""

class StageHistory:
    @property
    def kind(self) -> str: ...
    @property
    def start(self) -> float:
        """On the job's clock [s]."""
    @property
    def first_reacting(self) -> int: ...
    @property
    def reacting(self) -> int: ...
    @property
    def steps(self) -> int: ...
    @property
    def energy_residual(self) -> float: ...
    @property
    def radius(self) -> _Array:
        """(cells,) [m]; empty for the mixed mass. In a section row by row, all columns of a row together."""
    @property
    def face(self) -> _Array:
        """(cells + 1,) [m]; empty for the mixed mass. In a section (rows + 1) * columns."""
    @property
    def section(self) -> str:
        """``around`` or ``along`` in two dimensions, else empty."""
    @property
    def edge(self) -> _Array:
        """(columns + 1,) edges of the columns [rad from the invert, or m]; empty in one dimension."""
    @property
    def resin_cells(self) -> list[int]:
        """(reacting,) cells that cure."""
    @property
    def layers(self) -> list[str]: ...
    def times(self, between: int, /) -> _Array:
        """(n,) [s] from the stage's start: the accepted steps with ``between`` points in each."""
    @property
    def temperatures(self) -> _Array:
        """(n, cells) [K] at the solver's steps, ``times(0)``; the solver's own memory, read only."""
    @property
    def alphas(self) -> _Array:
        """(n, reacting) degree of cure [-] at the solver's steps; the solver's own memory, read only."""
    def sample(self, times: ArrayLike, /) -> tuple[_Array, _Array]:
        """Temperature (n, cells) [K] and degree of cure (n, reacting) [-] at times [s]."""

class Result:
    @property
    def verdict_json(self) -> str: ...
    def page_json(self, name: str, changed: str, /) -> str:
        """The page. `name` stands for a missing title; `changed` says what was changed in the case."""
    def moments_json(self, mixed_at: float | None, planned: float, /) -> str:
        """Headline and moments for a crew. `mixed_at` [min after midnight], or None; `planned` [min from mixing]."""
    @property
    def stages(self) -> list[StageHistory]: ...
    def at(self, place: str, times: ArrayLike, /) -> tuple[_Array, _Array]:
        """Temperature [K] and degree of cure [-] (n,) at a named place at times [s from mixing]. Raises CureError."""

def before_hold(case: Case, /) -> Case:
    """The case without its hold, its wet-out going on for the longest that is looked at, a day; something must come before the hold."""

def unfilled_months(means: Sequence[float], /) -> str:
    """What is allowed in place of monthly means [degC] that look as if some were never filled in; empty where they do not."""

def check_json(text: str, file: str, /) -> None:
    """Raises CureError for what is no JSON, too deep, with a key twice, or with a number of a size that no quantity has."""

def filled_document(kind: str, text: str, file: str, /) -> str:
    """A document (JSON), checked by the table of its kind, with defaults filled in. Raises CureError."""

def described_documents() -> list[tuple[str, str]]:
    """Names and texts of the JSON Schemas and the reference page, from the tables of the reader."""

class ModelLibrary:
    """Where ids are looked up, and the one folder that documents may name files of; empty: any."""

    def __init__(self, roots: Sequence[_Path], only: _Path, /) -> None: ...
    @property
    def only(self) -> _FilePath: ...

def confine(path: _Path, only: _Path, name: str, field: str, file: str, /) -> None:
    """Refuses a file outside a folder; nothing where the folder is empty."""

def own_model_folders() -> list[_FilePath]:
    """Folders that LIBCURE_MODELS names. Raises CureError for one that is not there."""

def parse_case(text: str, library: ModelLibrary, beside: _Path, name: str, /) -> Case: ...
def predict(
    case: Case, with_error: bool, stated: Stated | None, samples: int | None, stop: Event | None = None, /
) -> Result:
    """Runs a case, samples it and decides; on request with the estimated numerical error of each time. Setting `stop` ends it with CureError."""
def load_resin(path: _Path, only: _Path, /) -> Resin:
    """Reads a resin model file. Raises CureError."""

def read_resin(text: str, name: str, /) -> Resin:
    """A resin model from a document's text; no blend. Raises CureError."""

def blended(id: str, title: str, parts: list[tuple[float, Resin]], /) -> Resin:
    """A blend of resins by their shares of the mass. Raises CureError."""

class UncertainResin:
    """A resin, or a blend of files with shares by mass, whose constants vary by the covariances of its files."""

    def __init__(self, parts: Sequence[tuple[_Path, float]], /) -> None:
        """Raises CureError."""
    @property
    def dimensions(self) -> int:
        """Normal numbers that a draw takes; 0 when all constants count as exact."""
    @property
    def whole(self) -> bool:
        """Whether the constants of no part count as exact."""
    def resins(self, z: ArrayLike, /) -> list[Resin]:
        """Draws from standard normal numbers (draws, dimensions). Raises CureError."""

def stamp(text: str, /) -> tuple[tuple[float | None, float | None, float | None] | None, float | None] | None:
    """A moment, or a date or a time of day alone: days since 1970 by year-month-day, day-month-year and month-day-year, and the time of day [s]."""

def resin_limits(text: str, name: str, /) -> dict[str, tuple[float, float]]:
    """What each number of a document libcure/resin/1 may be, by path, in its own unit. Raises CureError."""

def drawn(scale: str, limits: tuple[float, float], value: float, change: ArrayLike, /) -> _Array:
    """What normal changes of a constant's scale (``linear``, ``log``, ``logit``) make of its value."""

def drawn_constants(text: str, name: str, z: ArrayLike, /) -> dict[str, _Array]:
    """Values (n,) by path, each in its own unit, that normal numbers z (n, constants) give to the uncertain constants of a
    document libcure/resin/1. Raises CureError."""

def resin_samples(text: str, name: str, paths: list[str], values: ArrayLike, /) -> list[Resin]:
    """Resins whose quantities at `paths` take the values of each row, in their own units.

    Args:
        text: a document libcure/resin/1.
        name: stands for the file in messages.
        paths: such as "rate.k1.E".
        values: (samples, paths).

    Raises CureError.
    """

def flory_stockmayer_gel_point(f: float, g: float, r: float, /) -> float:
    """Degree of cure at the gel point [-] of monomers with f and g groups at ratio r."""

def ensemble_inputs() -> dict[str, str]:
    """What may differ from row to row of an ensemble, with a word on each."""

sample_tolerances: tuple[float, float]
"""Local errors allowed in a step [K, -] where samples only tell percentiles."""

def packed(case: Case, /) -> bool:
    """Whether the packed solver takes the case; rows of others are predicted one by one."""

def same_before_hold(a: Case, b: Case, /) -> bool:
    """Whether all that is felt before the hold is the same to the bit in both."""

def instructions() -> list[str]:
    """Vector instructions that the packed solver can use on this machine, slowest first."""

def service_times(
    case: Case,
    names: list[str],
    values: ArrayLike,
    rows: int,
    resins: list[Resin],
    resin_of: ArrayLike,
    threads: int,
    bladder_out: float | None,
    stop: Event | None,
    /,
) -> NDArray[np.float64]:
    """Times [s] of all rows, NaN for never; as for `simulate_many`. Raises CureError."""

def simulate_many(
    cases: Sequence[Case],
    names: list[str],
    values: ArrayLike,
    rows: int,
    resins: list[Resin],
    resin_of: ArrayLike,
    threads: int,
    instructions: str,
    temperature_tolerance: float,
    alpha_tolerance: float,
    stop: Event | None,
    /,
) -> list[dict[str, Any]]:
    """Outcomes of each case's rows by column; `values` is (names, rows), `threads` 0 is all. Raises CureError."""

def liner_places() -> list[str]:
    """Names of the places of the liner, from its inner face outwards."""

most_readings: int

def follow_assumptions() -> dict[str, Any]:
    """Standard deviations of a reading and of the model [K], correlation time [s], error of times [-], the side of a release [-], those of
    what is estimated of the probe by name, and what is said of them."""

def did_you_mean(word: str, ids: Sequence[str], /) -> str:
    """``; did you mean "..."?`` with the id that is near, or has what was given as a part; empty where none is."""

def usual_temperatures() -> dict[str, tuple[float, float]]:
    """Least and most that sites have [°C]: ``ground``, ``pipe``, ``resin``, ``air``."""

def number_in(text: str, decimal_comma: bool, /) -> float:
    """A text as a finite number; NaN where it is none."""

def parse_table(data: bytes, needed: str, file: str, /) -> tuple[list[str], list[list[str]], list[int], bool, list[int], list[str]]:
    """Heading, rows, their lines, whether commas are decimal ones, lines that cannot be read, and what was left out. Raises CureError."""

def parse_readings(data: bytes, file: str, channel: str, mixed_at: str, /) -> tuple[_Array, _Array, list[str]]:
    """Times [s] and temperatures [K], NaN where missing, and what was left out, from the bytes of a CSV file. Raises CureError."""

class FollowResult:
    """What the readings of a running job come to."""

    def document_json(self, name: str, /) -> str:
        """The document ``libcure/follow/1`` of a case of that name."""
    @property
    def time(self) -> _Array:
        """Readings in order (n,) [s]."""
    @property
    def temperature(self) -> _Array:
        """(n,) [K]; NaN where missing."""
    @property
    def status(self) -> list[str]:
        """``used``, or the code of a fault."""
    @property
    def band_before(self) -> tuple[_Array, _Array, _Array, _Array]:
        """Times [s], and 5, 50 and 95 % [K] of what the probe should read, (n,) each."""
    @property
    def band_after(self) -> tuple[_Array, _Array, _Array, _Array]: ...

def follow(
    case: Case,
    time: _Array,
    temperature: _Array,
    file: str,
    left_out: list[str],
    at: str,
    now: float | None,
    stated: Stated,
    given: bool,
    samples: int | None,
    seed: int,
    threads: int,
    name: str,
    stop: Event | None,
    /,
) -> FollowResult:
    """Follows a job: readings [s, K], the moment [s], whether a person gave the ranges. Raises CureError."""

class FollowJob:
    """A case with its unknowns: temperatures and times of rows of standard normal numbers; for invented logs."""

    def __init__(self, case: Case, at: str, stated: Stated, threads: int, /) -> None: ...
    @property
    def held(self) -> tuple[float, float]:
        """From when to when the liner is held [s]."""
    @property
    def unknowns(self) -> int:
        """Columns of theta: inputs, then constants of the resin."""
    def traces(self, theta: _Array, times: _Array, /) -> _Array:
        """Temperatures (rows, times) at the probe [K]; NaN in a row that cannot be computed."""
    def medium(self, times: _Array, /) -> _Array:
        """Temperature of the air, then of the bladder's fill [K]."""
    def release_times(self, theta: _Array, /) -> _Array:
        """When the criterion is met (rows,) [s]; NaN: never."""

# As in heat, where each is said in full.
def solve_wall(
    geometry: str,
    inner_radius: float,
    layers: Sequence[Mapping[str, object]],
    inner: Mapping[str, object],
    outer: Mapping[str, object],
    initial: ArrayLike,
    times: ArrayLike,
    resin: Resin | None = None,
    reacting: int | None = None,
    source: float = 0.0,
    alpha0: float | None = None,
    tolerance: tuple[float, float] = (5e-3, 1e-6),
) -> tuple[_Array, _Array]: ...
def steady_heat_around(
    edge: ArrayLike,
    inner_radius: ArrayLike,
    thickness: ArrayLike,
    conductivity: float,
    rows: int,
    T_inner: float,
    T_outer: float,
    /,
) -> float: ...
def nusselt_free_cylinder(Ra: ArrayLike, Pr: ArrayLike, /) -> _Array: ...
def nusselt_crossflow(Re: ArrayLike, Pr: ArrayLike, /) -> _Array: ...
def nusselt_inside_cylinder(Ra: ArrayLike, /) -> _Array: ...
def h_open_air(
    surface: ArrayLike, ambient: ArrayLike, diameter: ArrayLike, wind: ArrayLike, pressure: ArrayLike, /
) -> _Array: ...
def h_radiation(emissivity: ArrayLike, T1: ArrayLike, T2: ArrayLike, /) -> _Array: ...
def ground_temperature(
    mean: ArrayLike,
    amplitude: ArrayLike,
    day_of_minimum: ArrayLike,
    diffusivity: ArrayLike,
    depth: ArrayLike,
    day: ArrayLike,
    /,
) -> _Array: ...
def h_closed_bladder(wall: ArrayLike, fill: ArrayLike, diameter: ArrayLike, pressure: ArrayLike, /) -> _Array:
    """Air closed in a bladder [W/(m2 K)]; wall, fill [K], diameter [m], absolute pressure [Pa]."""

def air(temperature: float, pressure: float, /) -> tuple[float, float, float, float, float]:
    """Density [kg/m3], viscosity [Pa s], conductivity [W/(m K)], specific heat [J/(kg K)], Prandtl number [-]."""

def ground_from_monthly(monthly: Sequence[float], diffusivity: float, /) -> tuple[float, float, float, float]:
    """Mean [K], amplitude [K], day of minimum and worst misfit [K] of twelve monthly surface means [K]."""

def far_radius(outer_radius: float, diffusivity: float, duration: float, error: float, /) -> float:
    """Least radius [m] at which ground may count as undisturbed, for a share of error in the wall's rise."""

def far_radius_error(distance: float, diffusivity: float, duration: float, /) -> float:
    """Share of the pipe's temperature rise lost by ending the ground a distance [m] outside it."""

class fit:
    """The submodule of fits; everything SI."""

    least_share: float
    """Of a ramp's heat, by which its record still tells the whole."""
    bases: dict[str, bool]
    """What can be fitted, and whether it cannot start from nothing."""
    diffusions: list[str]

    @staticmethod
    def run_weight(points: int) -> float: ...
    @staticmethod
    def heat_flow_factor(unit: str, mass: float, exotherm_up: bool) -> float: ...
    @staticmethod
    def quality(time: _Array, temperature: _Array, signal: _Array) -> dict[str, Any]: ...
    @staticmethod
    def subtract_baseline(kind: str, time: _Array, heat_flow: _Array, windows: tuple[float, float, float, float]) -> dict[str, Any]: ...
    @staticmethod
    def kissinger(heating_rate: _Array, peak: _Array) -> dict[str, float]: ...
    @staticmethod
    def e698(heating_rate: _Array, peak: _Array) -> dict[str, float]: ...
    @staticmethod
    def temperature_integral(x: float) -> float: ...
    @staticmethod
    def isoconversional(
        method: str, runs: list[tuple[_Array, _Array, _Array, _Array, float]], alpha: _Array
    ) -> tuple[_Array, _Array, _Array]: ...
    @staticmethod
    def compress(jacobian: _Array, residuals: _Array) -> _Array: ...
    @staticmethod
    def parameters(law: tuple[str, bool, bool, str, bool]) -> list[dict[str, Any]]:
        """All parameters of a law, in order: the fields of ``libcure.fitting.laws.Parameter``."""

    class Problem:
        """Runs and gel times with a law; its residuals with exact derivatives."""

        def __init__(
            self, law: tuple[str, bool, bool, str, bool], T_ref: float, glass_transition: tuple[float, float, float],
            parameters: list[float], free: list[int], loss: str, loss_scale: float, tolerance: float,
        ) -> None: ...
        def add_run(
            self, time: _Array, temperature: _Array, heat_flow: _Array, part: tuple[int, int], baseline: str,
            windows: tuple[float, float, float, float], total_heat: float, start: float, tolerance: float,
            weights: tuple[float, float], tells_heat: bool, on_ramps: bool, heated: bool,
        ) -> None: ...
        def set_shapes(self, run: int, shapes: _Array, shrink: list[float], offset: _Array) -> None:
            """What may be off in a run alone: orthonormal shapes (2 points, k) of its residuals, and how far each is taken out;
            offset (2 points,) or (0,) is added to the residuals."""
        def set_lags(self, mean: tuple[float, float], deviation: tuple[float, float]) -> None:
            """Priors of the signal's time constant and of the thermal lag [s], which follow the free parameters in x."""
        def add_cup(
            self, gel_time: float, start: float, ambient: float, loss: float, rise: float, alpha_gel: float,
            relative_error: float,
        ) -> None: ...
        @property
        def residuals(self) -> int: ...
        def evaluate(self, x: _Array) -> tuple[_Array, _Array]:
            """Residuals (n,) and Jacobian (n, p); the two priors of the lags are the last rows."""
        def compressed(self, x: _Array) -> _Array:
            """Triangle (p + 1, p + 1) of [J r], whitened by the shapes, after the robust loss."""
        def curves(self, x: _Array) -> list[tuple[_Array, _Array, float]]: ...

def unit_points(dimensions: int, samples: int, seed: int, /) -> _Array:
    """Scrambled Sobol' points (samples, dimensions), strictly inside the unit cube; the same to the bit on every machine.

    Direction numbers of S. Joe & F.Y. Kuo (SIAM J. Sci. Comput. 30, 2635, 2008), as Boost has them; scrambled by a linear
    matrix and a digital shift (J. Matousek, J. Complexity 14, 527, 1998).
    """

def band(values: ArrayLike, up: bool, /) -> tuple[float, float, float]:
    """5, 50 and 95 % of values: the sample at that place or the next one, upwards or downwards."""

CONFIDENCE: float
"""That a bound of a side holds."""

def upper_side(values: ArrayLike, share: float, confidence: float, /) -> tuple[float, float, bool]:
    """Quantile at a share, its upper 95 % confidence bound by order statistics, and whether the samples are enough for it."""

def lower_side(values: ArrayLike, share: float, confidence: float, /) -> tuple[float, float, bool]:
    """The same at 1 - share and from below."""

class Stated:
    """What is not known exactly, for `predict`."""

    def __init__(
        self, seed: int, constants: bool, source: str, inputs: Sequence[tuple[str, str, list[str], str, float]]
    ) -> None:
        """`source` says whose ranges these are; `inputs` are name, title, names of ensemble inputs, distribution, spread. Raises CureError."""
    def words(self, constants: bool, /) -> str:
        """What is uncertain, as part of a sentence; `constants`: those of the resin too."""

def usual_ranges() -> tuple[int, bool, str, list[tuple[str, str, list[str], str, float]]]:
    """The default set, as the arguments of `Stated`."""

def read_ranges(text: str, file: str, /) -> tuple[int, bool, str, list[tuple[str, str, list[str], str, float]]]:
    """The part "uncertain" of a chart document, JSON text, as the arguments of `Stated`; errors name the file."""

def duration(minutes: float, up: bool, /) -> str:
    """A time in words, rounded up or down."""

def short_duration(minutes: float, /) -> str:
    """Whole minutes in few letters."""

def keep_to(minutes: float, /) -> str:
    """The same of a time to keep to, rounded down; infinite is without a limit."""

def wait_for(minutes: float, /) -> str:
    """The same of a time to wait for, rounded up; infinite is never."""

def advise(
    text: str, library: ModelLibrary, beside: _Path, name: str, options: str, stated: Stated | None, stop: Event | None = None, /
) -> str:
    """Advice on a case document as a document, JSON text; options as well. Setting `stop` ends it with CureError."""

def caution_in_short(code: str, /) -> str:
    """A few words for a caution that holds at any job; empty where it has none."""

def usual_caution_codes() -> list[str]:
    """Of the cautions that hold whatever the times."""

def place(layer: str, position: str, clock: str | None, along_mm: float | None, /) -> str:
    """Where a point of a verdict is, in words."""

def in_ascii(words: str, /) -> str:
    """Words with the letters beyond ASCII that pages have spelled out."""

def page_text(page: object, *, width: int, colours: bool, ascii: bool) -> str:
    """A page (words.page.Page) for a terminal."""

def per_hundred(share: float, /) -> str:
    """A share in words, rounded up."""

def whole(x: float, up: bool, /) -> float:
    """The whole number above or below; one that carries round-off stays what it is."""

def weighted_quantile(values: ArrayLike, weights: ArrayLike, p: float, up: bool, /) -> float:
    """One of the values (n,) at a share p of the weights (n,), which add to 1; the next one to the given side."""

FIRST_SLACK: float
"""How much farther than the reach of what is foretold is looked at first."""

class Foreteller:
    """What samples will say, from the first of them: a quadratic in the normal scores of their points."""

    def __init__(self, points: ArrayLike, first: int, /) -> None:
        """Of points (samples, dimensions) inside the unit cube, the first of which are simulated."""

class PartlySimulated:
    """One quantity of all samples: as simulated, or as foretold."""

    def __init__(self, first: ArrayLike, most: int, relative: bool, /) -> None:
        """Of values of the first samples, which are simulated; relative: its logarithm is what inputs move evenly."""

    @property
    def foretold(self) -> bool:
        """Whether there is a number for each sample."""

    def foretell(self, by: Foreteller, low: float, high: float, /) -> bool:
        """Foretells what is not simulated, if that can be; between the two bounds a sample matters."""

    def missing(self, count: int, low: float, high: float, slack: float, /) -> list[int]:
        """Of the first samples those that have to be simulated, as they may lie between bounds; slack: on how far beyond them is looked."""

    def put(self, rows: Sequence[int] | NDArray[np.int64], values: _Array, /) -> None:
        """What simulated samples say."""

    def now(self, count: int, /) -> _Array:
        """The first samples, those neither simulated nor foretold as NaN."""

def normal_quantile(p: ArrayLike, /) -> _Array:
    """Standard normal numbers below which the shares p, between 0 and 1, of all lie."""

class Place:
    """A place and its season, whose usual values stand in for what a crew does not know."""

    @property
    def name(self) -> str: ...
    @property
    def title(self) -> str: ...
    def ground_C(self, depth_mm: float) -> float:
        """Likely temperature at a depth [°C]; under a floor the swing is small."""

def job_places() -> list[Place]:
    """The places there are."""

def job_pipes() -> dict[str, tuple[str, float]]:
    """Material, and usual wall over the bore, by word."""

def job_facts() -> str:
    """The questions, as JSON."""

def job_read_answer(key: str, text: str, units: str, where: str, resins: list[str], /) -> tuple[str, str]:
    """Value as JSON, and doubt. `resins` are the ids there are. Raises CureError."""

def job_understood(key: str, text: str, units: str, where: str, resins: list[str], /) -> tuple[str, str]:
    """The same; a doubt is an error too."""

def read_job(text: str, file: str, /) -> tuple[str, dict[str, str]]:
    """Units, and texts by key, of a document ``libcure/job/1``. Raises CureError."""

def plan_job(values: str, title: str, file: str, /) -> str:
    """Case, ranges and stand-ins as JSON, from JSON of values by key. Raises CureError."""

def said_unknown(text: str, /) -> bool: ...
def said_temperature(text: str, unit: str, /) -> tuple[float, bool] | None:
    """[°C], and whether its unit was said."""

def said_length(text: str, unit: str, /) -> tuple[float, bool] | None:
    """[mm], and whether its unit was said."""

def said_minutes(text: str, /) -> float | None: ...
def said_clock(text: str, /) -> float | None:
    """[min after midnight]"""

def clock_words(moment: float, up: bool, /) -> str:
    """A moment [min after midnight of the day of mixing] by the clock."""
