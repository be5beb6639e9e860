"""How well the reader does on a set of photographs whose truth is known."""
