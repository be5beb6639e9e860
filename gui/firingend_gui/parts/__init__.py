"""The panels of the window; each shows one frozen state and says what a person wants."""
