"""Limits for statistics of random draws, from their own distribution: chance fails less than one run of the suite in 10,000."""

import numpy as np
from scipy.stats import binom, chi2, norm

STATISTICS = 500
"""No more than these are looked at in one run."""
ALARM = 1e-4 / STATISTICS


def least_hits(trials, share):
    """Fewest of the trials that hit, when each does with a chance of at least this share."""
    return binom.ppf(ALARM, trials, share)


def most_hits(trials, share):
    """Most of the trials that hit, when each does with a chance of at most this share."""
    return binom.isf(ALARM, trials, share)


def spread_limits(n):
    """Lowest and highest sample standard deviation (of n - 1) of n normal deviates, over the true one."""
    return np.sqrt(chi2.ppf(ALARM / 2, n - 1) / (n - 1)), np.sqrt(chi2.isf(ALARM / 2, n - 1) / (n - 1))


def farthest():
    """Farthest standard normal deviate, either side."""
    return norm.isf(ALARM / 2)
