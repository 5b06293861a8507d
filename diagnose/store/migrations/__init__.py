"""How the tables grew: Alembic's scripts, one a schema, shipped with the program."""
