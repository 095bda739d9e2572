"""The record of a job, to sign and to check later."""

from libcure.recording.record import Finding, Record, make, verify
from libcure.recording.site import Site, load_site, read_site

__all__ = ["Finding", "Record", "Site", "load_site", "make", "read_site", "verify"]
