"""The terminal app: one module a screen."""
