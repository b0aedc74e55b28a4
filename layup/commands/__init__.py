"""The commands: one module each, with `add_arguments`, `run` and `EXAMPLE`."""
