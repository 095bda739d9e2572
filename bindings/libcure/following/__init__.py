"""A job that runs is followed with a thermocouple, whose readings update the release time and its band. For example::

    import libcure
    result = libcure.follow("case.json", "log.csv", at="liner outer face")
    result.release_min, result.before.wait_until_min, result.relied_on

Times count from mixing.
"""

from libcure._core import FollowJob as Job
from libcure.following.engine import PLACES, follow
from libcure.following.readings import Readings, read_readings
from libcure.following.result import Band, FollowResult, Screened, Statement, Sure, TemperatureBand, Unknown
from libcure.following.watching import Seen, watch

__all__ = [
    "PLACES",
    "Band",
    "FollowResult",
    "Job",
    "Readings",
    "Screened",
    "Seen",
    "Statement",
    "Sure",
    "TemperatureBand",
    "Unknown",
    "follow",
    "read_readings",
    "watch",
]
