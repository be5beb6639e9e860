"""From a picture to what each firing end in it shows."""
