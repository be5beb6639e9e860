"""Job cards in the viewer: what was done in the window goes to the store, and what is in the store into the window."""
