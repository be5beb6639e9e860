"""Job cards: what a shop keeps of every engine, and the store that keeps it."""
