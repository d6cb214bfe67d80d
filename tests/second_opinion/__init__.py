"""The package against the plain reference in `tests/reference`, shot by shot."""
