"""Resin and plan files as people write them, checked, and the generic material tables."""
