"""The pure core: fabric, laminate, mixing and the chemistry of a setting resin. No files, clocks or screens."""
