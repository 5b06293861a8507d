"""Run by Alembic: the migrations take the connection, and with it the transaction, of whoever opens the store."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], transactional_ddl=True)
with context.begin_transaction():
    context.run_migrations()
