"""The configuration: one TOML file in, frozen models out; every mistake named at once."""
