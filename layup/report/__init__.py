"""A session on paper and for other programs: HTML with charts, Markdown, CSV, JSON Lines."""
