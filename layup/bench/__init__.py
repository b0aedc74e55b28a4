"""Everything the screens show and decide, without a widget."""
