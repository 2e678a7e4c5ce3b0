"""The tests: they mirror the package; `sources.toml` holds every citation."""
