"""Alembic's entrance: bring the connection that `strikeline.store.schema` hands over to the wanted revision."""

from __future__ import annotations

from alembic import context

from strikeline.store.tables import Table

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Table.metadata,
    render_as_batch=True,  # SQLite alters a table by copying it
    transactional_ddl=True,  # both databases undo half a migration
)
with context.begin_transaction():
    context.run_migrations()
