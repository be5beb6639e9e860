"""Case files: an engine, its plugs and what was checked, written down as TOML."""
