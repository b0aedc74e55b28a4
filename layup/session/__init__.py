"""A press day on the disk: events, the journal, the state folded from it, lifetimes."""
