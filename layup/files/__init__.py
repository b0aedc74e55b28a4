"""The files that people write: resins, plans, drawings, tables, the workshop."""
