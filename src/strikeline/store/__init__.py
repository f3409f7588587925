"""The record in a database: SQLite in the data folder, or PostgreSQL by URL; migrations, backup."""
