"""Press-day records: events, the append-only journal, and the state folded from it."""
