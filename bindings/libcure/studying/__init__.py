"""A resin of one's own: measurements of any kind, one joint answer, and a model file that carries what is not known."""

from libcure.studying.study import Study, load, run

__all__ = ["Study", "load", "run"]
