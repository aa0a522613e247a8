"""One bike with what is fitted to it, as TOML."""
