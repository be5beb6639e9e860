"""From evidence to causes with probabilities and the next check worth doing."""
