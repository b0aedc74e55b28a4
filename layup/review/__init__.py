"""What a session shows afterwards, and what sessions teach."""
