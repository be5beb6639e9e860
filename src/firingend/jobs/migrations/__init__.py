"""How the schema of the store came about, one step a file, for Alembic."""
