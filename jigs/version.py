"""The program's version, as it is engraved and recorded; no date in it."""

VERSION = "0.1.0"
