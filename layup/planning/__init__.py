"""Pure planning: from outline, stack, people and shop to grams, batches and times."""
