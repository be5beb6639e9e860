"""A finished case becomes a page on the screen or on paper."""
