"""The engine on the bench: its cylinders and what they share."""
