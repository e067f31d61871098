"""Run the migrations on the connection that `Database.migrate` hands over, within its transaction."""

from alembic import context

from service.store.tables import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata)
context.run_migrations()
