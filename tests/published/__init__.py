"""Checks against the outside world: each reference value stands beside its source."""
