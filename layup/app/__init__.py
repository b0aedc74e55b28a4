"""The terminal app: one module a place."""
